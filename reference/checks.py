"""What must hold across the data files: told in full, before any card is judged.

Only facts about the data. Plausibility that needs outside sources lives in the tests.
"""

from collections.abc import Iterable, Iterator, Mapping

from reference.compiled import Content
from reference.rows import Architecture, Card, CardsFile, Chip, Memory, Source

_FIELDS = frozenset(Card.__struct_fields__) | {
    f"memory.{name}" for name in Memory.__struct_fields__
}
_DERIVED = frozenset({"fp32", "shaders", "bandwidth"})
"""Figures that sources state and that follow from a card's fields."""


def chips(
    rows: Mapping[str, Chip],
    architectures: Mapping[str, Architecture],
    sources: Mapping[str, Source],
) -> Iterator[str]:
    """Tell of chips and architectures that lead nowhere."""
    for name, architecture in architectures.items():
        place = f"architectures.toml: {name}"
        yield from _unknown(place, architecture.source, sources)
        bands = {
            "clock": architecture.clock,
            "fp32": architecture.fp32,
            "memory_shown": architecture.memory_shown,
            **{f"memory.{kind}": band for kind, band in architecture.memory.items()},
            **{f"results.{kind}": pair for kind, pair in architecture.results.items()},
        }
        for what, (low, high) in bands.items():
            if low > high:
                yield f"{place}.{what}: {low:g} is above {high:g}"
    taken: dict[str, str] = {}
    for name, chip in rows.items():
        place = f"chips.toml: {name}"
        if chip.architecture not in architectures:
            yield f"{place}.architecture: no architecture {chip.architecture!r}"
        yield from _unknown(place, chip.source, sources)
        for window in chip.windows:
            low, high = (int(end, 16) for end in window.split("-"))
            if low > high or low % 32 or high % 32 != 31:  # noqa: PLR2004 - blocks of 32 ids
                yield f"{place}.windows: {window} is no run of blocks of 32 ids"
            for block in range(low >> 5, (high >> 5) + 1):
                owner = taken.setdefault(f"{block:x}", name)
                if owner != name:
                    yield f"{place}.windows: {window} is {owner}'s too"


def marks(content: Content) -> Iterator[str]:
    """Tell of marks of two NVIDIA chips, and of unknown sources."""
    owners: dict[str, str] = {}
    taken = {
        block: name
        for name, chip in content.chips.items()
        for window in chip.windows
        for block in blocks(window)
    }
    for name, mark in content.marks.items():
        place = f"marks.toml: {name}"
        yield from _unknown(place, mark.source, content.sources)
        for one in (*mark.audio, *mark.usb, *mark.silicon):
            owner = owners.setdefault(one, name)
            if owner != name and not one.startswith("1002:"):
                yield f"{place}: {one} is {owner}'s too"
        for window in mark.windows:
            for block in blocks(window):
                owner = taken.setdefault(block, name)
                if owner != name:
                    yield f"{place}.windows: {window} is {owner}'s too"


def blocks(window: str) -> range:
    """Return the blocks of 32 device ids that `0fc0-0fff` names."""
    low, high = (int(end, 16) >> 5 for end in window.split("-"))
    return range(low, high + 1)


def cards(
    name: str,
    file: CardsFile,
    numbered: Iterable[tuple[int, Card]],
    known: Content,
) -> Iterator[str]:
    """Tell of cards that their chip cannot be, and of unknown sources."""
    yield from _unknown(f"{name}: $", listed(file.source), known.sources)
    for number, seen in enumerate(file.seen, 1):
        spot = f"{name}: seen[{number}] ({seen.model})"
        if seen.chip not in known.chips:
            yield f"{spot}.chip: no chip {seen.chip!r} in chips.toml"
        yield from _unknown(spot, (seen.source,), known.sources)
    for number, card in numbered:
        place = f"{name}: card[{number}] ({card.model})"
        chip = known.chips.get(card.chip)
        if chip is None:
            yield f"{place}.chip: no chip {card.chip!r} in chips.toml"
            continue
        architecture = known.architectures.get(chip.architecture)
        yield from _fields(place, card)
        if architecture is not None:
            yield from _fits(place, card, chip, architecture, file.vendor)
        if card.source is not None:
            yield from _unknown(place, listed(card.source), known.sources)


def listed(source: str | tuple[str, ...]) -> tuple[str, ...]:
    """Return the ids of one `source`, which may be a single id."""
    return (source,) if isinstance(source, str) else source


def _fits(
    place: str, card: Card, chip: Chip, architecture: Architecture, vendor: str
) -> Iterator[str]:
    if architecture.vendor != vendor:
        yield f"{place}.chip: {card.chip} is {architecture.vendor}'s, not {vendor}'s"
    if card.units > chip.units:
        yield f"{place}.units: {card.units} of a chip that has {chip.units}"
    if card.boost_mhz is not None and card.boost_mhz < card.base_mhz:
        yield f"{place}.boost_mhz: below base_mhz"
    prefix = {"NVIDIA": "10de:", "AMD": "1002:", "Intel": "8086:"}[vendor]
    for pci in card.pci:
        if not pci.startswith(prefix):
            yield f"{place}.pci: {pci} is not {vendor}'s"
    for count, memory in enumerate(card.memory, 1):
        spot = f"{place}.memory[{count}]"
        if memory.bus_bits > chip.bus_bits:
            yield f"{spot}.bus_bits: {memory.bus_bits} on a {chip.bus_bits}-bit chip"
        if memory.type not in architecture.memory:
            yield f"{spot}.type: no band for {memory.type} in {chip.architecture}"


def _fields(place: str, card: Card) -> Iterator[str]:
    """Tell of remarks about fields that do not exist, and of what is said twice."""
    for name in card.from_memory:
        if name not in _FIELDS:
            yield f"{place}.from_memory: no field {name!r}"
    for number, conflict in enumerate(card.conflict, 1):
        if conflict.field not in _FIELDS | _DERIVED:
            yield f"{place}.conflict[{number}].field: no field {conflict.field!r}"
    for name in ("aliases", "pci", "revisions", "subsystems", "remarks"):
        values = getattr(card, name)
        if len(set(values)) < len(values):
            yield f"{place}.{name}: a value stands there twice"


def _unknown(
    place: str, ids: tuple[str, ...], sources: Mapping[str, Source]
) -> Iterator[str]:
    for one in ids:
        if one not in sources:
            yield f"{place}.source: no source {one!r}"
