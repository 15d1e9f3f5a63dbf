"""Which cards a round is about, and how a check is told to test each.

Chooses among what was listed; opens no card. Practice cards are cards as well.
"""

from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass

from msgspec.structs import replace

from probe.batch.numbers import Listed
from probe.errors import HostError, UsageError
from probe.identity.address import normal
from probe.identity.disagreements import disagreements
from reports.listing import ListedCard, Listing
from reports.record import CardIdentity
from reports.text import plain

_SHOWN = 80


@dataclass(frozen=True, kw_only=True)
class Slot:
    """One card to be tested."""

    card: ListedCard
    arguments: tuple[str, ...]
    """By which `check` finds it."""
    practice: bool = False

    @property
    def identity(self) -> CardIdentity:
        return self.card.identity

    @property
    def alone(self) -> bool:
        """Whether it must not be tested beside others; see the package's notes."""
        card = self.identity
        return (
            bool(self.card.disagreements) or card.unified_memory or card.kind != "gpu"
        )

    @property
    def where(self) -> str:
        """Where it is, for a person."""
        card = self.identity
        return card.pci_address or f"card {card.index}"

    def told(self, name: str) -> str | None:
        """Return what the card says of itself, as a ledger keeps it.

        `name`: pci_id, subsystem.
        """
        for layer in ("pci", "nvml", "driver", "opencl"):
            for claim in self.card.claims:
                said: str | None = getattr(claim, name)
                if claim.layer == layer and said:
                    return said.strip().lower()
        return None


def chosen(
    listing: Listing, wanted: Sequence[str]
) -> tuple[tuple[Slot, ...], tuple[str, ...]]:
    """Return the cards meant, in order, and what is said of those left out.

    Raises UsageError where one that is named is not here.
    """
    if wanted:
        named = dict.fromkeys(_index(listing, one) for one in wanted)
        cards = [card for card in listing.cards if card.identity.index in named]
        return _testable(cards)
    cards = [card for card in listing.cards if card.identity.kind == "gpu"]
    own = [card for card in cards if not card.identity.unified_memory]
    slots, notes = _testable(own or cards)
    if not own:
        return slots, notes
    built_in = tuple(
        f"{plain(card.identity.label, _SHOWN)}: left out, it has no memory of its own; "
        f"`--card {card.identity.index}` tests it"
        for card in cards
        if card.identity.unified_memory
    )
    return slots, notes + built_in


def _testable(
    cards: Sequence[ListedCard],
) -> tuple[tuple[Slot, ...], tuple[str, ...]]:
    slots = tuple(_slot(card) for card in cards if card.testable)
    notes = tuple(
        f"{plain(card.identity.label, _SHOWN)} at "
        f"{card.identity.pci_address or card.identity.index}: left out, no OpenCL "
        "driver shows it; `cardassay list` says what to do"
        for card in cards
        if not card.testable
    )
    return slots, notes


def _slot(card: ListedCard) -> Slot:
    place = card.identity.pci_address or str(card.identity.index)
    if card.identity.kind == "cpu":
        place = "cpu"
    return Slot(card=card, arguments=(f"--card={place}",))


def _index(listing: Listing, wanted: str) -> int:
    """Return a card's place in the list. Raises UsageError."""
    found = _found(listing, wanted)
    if found is None:
        raise UsageError(
            f"There is no card {plain(wanted, _SHOWN)!r} here; `cardassay list` shows "
            "which there are"
        )
    return found


def _found(listing: Listing, wanted: str) -> int | None:
    address = normal(wanted) if ":" in wanted else None
    for card in listing.cards:
        one = card.identity
        if wanted == str(one.index) or (wanted.lower(), one.kind) == ("cpu", "cpu"):
            return one.index
        if address is not None and one.pci_address == address:
            return one.index
    return None


def simulated(names: Sequence[str]) -> tuple[Slot, ...]:
    """Return practice cards. Raises UsageError for a condition that nobody knows."""
    from probe.practice import conditions  # noqa: PLC0415 - brings numpy in

    slots = []
    for number, name in enumerate(names):
        with closing(conditions.open_practice(conditions.find(name).name)) as device:
            facts = device.facts
        card = ListedCard(
            identity=replace(facts.identity, index=number),
            claims=facts.claims,
            disagreements=disagreements(facts.claims),
        )
        slots.append(Slot(card=card, arguments=(f"--practice={name}",), practice=True))
    return tuple(slots)


def numbered(
    slots: Sequence[Slot], numbers: Sequence[str]
) -> tuple[tuple[Slot, str], ...]:
    """Return each card with its number, in order. Raises UsageError for a mismatch."""
    if len(slots) != len(numbers):
        here = "\n".join(
            f"  {slot.where}  {plain(slot.identity.label, _SHOWN)}" for slot in slots
        )
        raise UsageError(
            f"{len(numbers)} stock numbers for {len(slots)} cards; give each card one, "
            f"or name the cards with --card:\n{here}"
        )
    return tuple(zip(slots, numbers, strict=True))


def by_list(
    listing: Listing, slots: Sequence[Slot], lines: Sequence[Listed]
) -> tuple[tuple[tuple[Slot, str], ...], tuple[Listed, ...]]:
    """Return each card that a list names with its number, and lines without a card."""
    pairs, missing = [], []
    for line in lines:
        index = _found(listing, line.where)
        slot = next((one for one in slots if one.identity.index == index), None)
        if slot is None:
            missing.append(line)
        else:
            pairs.append((slot, line.number))
    indexes = [slot.identity.index for slot, _ in pairs]
    for slot, number in pairs:
        if indexes.count(slot.identity.index) > 1:
            raise UsageError(
                f"the list has two numbers for one card, {plain(number, _SHOWN)} "
                f"and another, at {slot.where}"
            )
    return tuple(pairs), tuple(missing)


def nothing_here(problem: str | None) -> HostError:
    """Return the error of a PC without a card that could be tested."""
    return HostError(problem or "no graphics card that could be tested is here")
