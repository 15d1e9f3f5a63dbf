"""How many checks run at once, and which cards are tested alone. Pure."""

from collections.abc import Sequence
from typing import Protocol, TypeVar

MOST_AT_ONCE = 4
"""Unless a person says otherwise."""
PROCESSORS = 2
"""For each check: one feeds the card, one watches and stores."""
ROOM_BYTES = 512 * 2**20
"""Of the PC's memory for each check: its two processes and the driver's buffers."""
KEPT = 0.5
"""Share of the free memory that is left alone."""


class Placed(Protocol):
    """A card to be tested."""

    @property
    def alone(self) -> bool:
        """Whether it must not be tested beside others."""


T = TypeVar("T", bound=Placed)


def at_once(processors: int, available_bytes: int | None, asked: int | None) -> int:
    """Return how many checks may run at once: at least one."""
    if asked is not None:
        return max(asked, 1)
    most = min(MOST_AT_ONCE, processors // PROCESSORS)
    if available_bytes is not None:
        most = min(most, int(available_bytes * KEPT) // ROOM_BYTES)
    return max(most, 1)


def waves(cards: Sequence[T]) -> tuple[tuple[T, ...], ...]:
    """Return the cards in the order of their tests; those of one wave may overlap.

    What may bring a driver down comes first, each by itself.
    """
    single = tuple((card,) for card in cards if card.alone)
    rest = tuple(card for card in cards if not card.alone)
    return (*single, rest) if rest else single
