"""Which of the cards found is meant. Asked where several fit, never guessed."""

from collections.abc import Sequence

from probe.errors import HostError, UsageError
from probe.identity import advice
from probe.identity.address import normal
from probe.identity.bus import may_be_built_in
from probe.identity.cards import Found, Inventory


def select(inventory: Inventory, wanted: str | None) -> Found:
    """Return the card that `wanted` names: an index, a PCI address, `cpu` or None.

    None takes the one graphics card; of several the only one with its own memory.
    Raises UsageError where it names none or several fit, HostError where the card
    meant cannot be tested; both say what to do.
    """
    if wanted is None:
        return _only_card(inventory)
    if wanted.lower() == "cpu":
        return _processor(inventory)
    found = _named(inventory, wanted)
    if found.opencl_device is None:
        raise HostError(advice.untestable(found, inventory))
    return found


def testable(inventory: Inventory) -> tuple[Found, ...]:
    """Return every graphics card that can be tested. Raises HostError without one."""
    found = tuple(
        card
        for card in inventory.cards
        if card.identity.kind == "gpu" and card.opencl_device is not None
    )
    if not found:
        raise HostError(advice.no_card(inventory))
    return found


def _only_card(inventory: Inventory) -> Found:
    cards = testable(inventory)
    own_memory = [card for card in cards if not card.identity.unified_memory]
    if len(own_memory) == 1:
        return own_memory[0]
    if not own_memory:
        _refuse_silent(inventory)
    if len(cards) == 1:
        return cards[0]
    raise UsageError(
        "Several graphics cards are here; say which one is meant:\n"
        + _menu(own_memory or cards)
    )


def _refuse_silent(inventory: Inventory) -> None:
    """Refuse where only built-in graphics answers while a card in a slot is silent."""
    for card in inventory.cards:
        silent = card.opencl_device is None and card.identity.kind == "gpu"
        if silent and not (card.bus is not None and may_be_built_in(card.bus)):
            text = advice.untestable(card, inventory)
            built_in = _menu(testable(inventory))
            raise HostError(f"{text}\nWhat can be tested instead:\n{built_in}")


def _processor(inventory: Inventory) -> Found:
    for card in inventory.cards:
        if card.identity.kind == "cpu" and card.opencl_device is not None:
            return card
    raise HostError(advice.no_processor(inventory))


def _named(inventory: Inventory, wanted: str) -> Found:
    cards = inventory.cards
    if wanted.isascii() and wanted.isdigit() and int(wanted[:9]) < len(cards):
        return cards[int(wanted[:9])]
    address = normal(wanted) if ":" in wanted else None
    for card in cards:
        if address is not None and card.identity.pci_address == address:
            return card
    if not cards:
        raise HostError(advice.no_card(inventory))
    raise UsageError(f"There is no card {wanted!r} here; there are:\n{_menu(cards)}")


def _menu(cards: Sequence[Found]) -> str:
    return "\n".join(
        f"  --card {card.identity.index}  {card.identity.label}"
        + (f" at {card.identity.pci_address}" if card.identity.pci_address else "")
        + (f" ({card.identity.platform})" if card.identity.platform else "")
        for card in cards
    )
