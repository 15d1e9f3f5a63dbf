"""What a measuring process can do: list, pick, measure. The same within our own.

Touches cards. Knows no pipe, no journal, no terminal.
"""

from collections.abc import Callable
from typing import TYPE_CHECKING

from probe.device import Device
from probe.errors import HostError
from probe.events import Working
from probe.plan import Plan
from probe.session import Session
from probe.survival.talk import Asking, LayerName, Listed, Picked, Target, Word
from probe.turns import Alone, Together, Turns
from reports.record import CardIdentity

if TYPE_CHECKING:
    from probe.identity.cards import Found, Inventory

Hear = Callable[[Word], None]
ASK_PATIENCES = 3.0
"""A layer that is asked for its cards may take so many times the patience."""
BUILD_PATIENCES = 6.0
"""A driver may compile for so many times the patience."""


class Worker:
    """Asks the layers of this PC and tests its cards."""

    def __init__(self, hear: Hear, patience: float = 10.0) -> None:
        self.hear = hear
        self.patience = patience
        self.inventory: Inventory | None = None

    def listing(self, without: dict[LayerName, str]) -> Listed:
        """Return what every layer says."""
        from probe.commands import as_listing  # noqa: PLC0415 - start-up

        return Listed(listing=as_listing(self._find(without)))

    def pick(self, wanted: str | None, without: dict[LayerName, str]) -> Picked:
        """Return the cards that are meant. Raises UsageError."""
        from probe.identity import select  # noqa: PLC0415 - start-up

        inventory = self._find(without)
        try:
            if wanted == "all":
                chosen = list(select.testable(inventory))
            else:
                chosen = [select.select(inventory, wanted)]
        except HostError as error:
            silent = _silent(inventory, wanted)
            return Picked(
                problem=str(error), silent=None if silent is None else _target(silent)
            )
        return Picked(targets=tuple(map(_target, chosen)))

    def open(self, identity: CardIdentity) -> Device:
        """Open the card of that identity. Raises HostError, CardError."""
        from probe.identity import cards  # noqa: PLC0415 - start-up
        from probe.opencl.device import OpenCLDevice  # noqa: PLC0415 - start-up

        found = self._again(identity)
        if found.opencl_device is None:
            raise HostError(f"{identity.label}: no OpenCL driver shows this card")
        facts = cards.facts(found, "OpenCL events")
        return OpenCLDevice(found.opencl_device, facts, found.sensors())

    def measure(self, identity: CardIdentity, plan: Plan) -> None:
        """Test a card. Raises HostError, CardError where it cannot be opened.

        A simulated card, too: one that ends the process it is tested in.
        """
        from probe.practice import conditions  # noqa: PLC0415 - brings numpy in
        from probe.survival.watched import Watched  # noqa: PLC0415 - start-up

        build = BUILD_PATIENCES * self.patience
        self.hear(Working(seconds=build))
        name = plan.practice_condition
        opened: Device = (
            self.open(identity) if name is None else conditions.open_practice(name)
        )
        turns: Turns = Together(self.hear) if name is None else Alone()
        with Watched(opened, self.hear, build) as device:
            Session(device, plan, self.hear, turns).run()

    def _find(self, without: dict[LayerName, str]) -> "Inventory":
        from probe.identity import cards  # noqa: PLC0415 - start-up
        from probe.survival.readers import readers  # noqa: PLC0415 - start-up

        def asking(layer: LayerName) -> None:
            seconds = ASK_PATIENCES * self.patience
            self.hear(Asking(layer=layer, seconds=seconds))

        self.inventory = cards.find(*readers(without, asking))
        return self.inventory

    def _again(self, identity: CardIdentity) -> "Found":
        """Return the card that an earlier look gave this identity to."""
        inventory = self.inventory or self._find({})
        for found in inventory.cards:
            if found.identity == identity:
                return found
        for found in inventory.cards:
            mine, address = found.identity, identity.pci_address
            if address is not None and mine.pci_address == address:
                return found
        raise HostError(
            f"{identity.label}: it is no longer found; restart the PC and test again"
        )


def _target(found: "Found") -> Target:
    return Target(identity=found.identity, claims=found.claims)


def _silent(inventory: "Inventory", wanted: str | None) -> "Found | None":
    """Return the one card that is meant and cannot be tested; None of several."""
    from probe.identity.address import normal  # noqa: PLC0415 - start-up

    silent = [
        card
        for card in inventory.cards
        if card.identity.kind == "gpu" and card.opencl_device is None
    ]
    if wanted not in (None, "all"):
        address = normal(wanted) if ":" in wanted else None
        silent = [
            card
            for card in silent
            if wanted == str(card.identity.index)
            or (address is not None and card.identity.pci_address == address)
        ]
    return silent[0] if len(silent) == 1 else None
