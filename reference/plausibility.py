"""What genuine cards have in common: sizes that chips give, twins, order of names.

Pure functions over rows; each tells of rows that break it and carry no `odd` sentence.
The tests hold the shipped table to them; rows added for one run are not held to them.
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import Final

from reference.rows import MemoryType, Variant
from reference.table import Table

_STACKED: Final = 1024
"""Bits of one stack of high bandwidth memory; other memory comes 32 bits a channel."""
_SIZES: Final[dict[MemoryType, tuple[int, ...]]] = {
    # two 16-bit chips (or four of 8 bits) a channel, of 256 Mbit to 2 Gbit
    "DDR2": (64, 128, 256, 512, 1024),
    # the same of 512 Mbit to 8 Gbit, the last in two ranks at most
    "DDR3": (128, 256, 512, 1024, 2048),
    "DDR4": (512, 1024, 2048, 4096),
    # one 32-bit chip a channel, or two of half the width each
    "GDDR3": (32, 64, 128, 256),  # 256 Mbit to 1 Gbit
    "GDDR5": (64, 128, 256, 512, 1024, 2048),  # 512 Mbit to 8 Gbit
    "GDDR5X": (1024, 2048),  # 8 Gbit
    "GDDR6": (1024, 2048, 4096),  # 8 and 16 Gbit
    "GDDR6X": (1024, 2048),  # 8 and 16 Gbit
    "GDDR7": (2048, 3072, 4096, 6144),  # 16 and 24 Gbit
    # a stack
    "HBM": (1024,),
    "HBM2": (1024, 2048, 4096, 8192),
    "HBM2e": (8192, 16384),
    "HBM3": (16384, 24576),
    "HBM3e": (24576, 36864),
}
"""MiB that one channel or stack can hold: densities of JEDEC's standards that were
made, two chips a channel included. From memory."""

_NAME: Final = re.compile(r"^(.*?)\b([1-9]\d{2,3})\b\s*(.*)$")
_LESS: Final = frozenset({"SE", "LE", "D", "OEM", "2048SP"})
"""What stands behind a number and means less than the number alone."""
_MORE: Final = frozenset({"Ti", "SUPER", "Ti SUPER", "XT", "XTX", "X", "Boost",
                          "Ti Boost", "GHz Edition"})  # fmt: skip
"""What means at least as much."""
_LATER: Final = frozenset({"SUPER", "Ti SUPER", "GRE", "GHz Edition"})
"""What is added to a name that is already sold."""


def sizes(rows: Iterable[Variant]) -> Iterator[str]:
    """Tell of memory that whole chips of one density cannot make on that bus."""
    for row in rows:
        width = _STACKED if row.memory_type.startswith("HBM") else 32
        channels = row.bus_bits / width
        each = row.memory_bytes / 2**20 / channels
        if each not in _SIZES[row.memory_type] and row.odd is None:
            yield (
                f"{row.id}: {each:g} MiB on each of {channels:g} channels of "
                f"{row.memory_type}, and no `odd`"
            )


def twins(rows: Iterable[Variant]) -> Iterator[str]:
    """Tell of rows that differ in nothing but a clock."""
    groups: dict[tuple[object, ...], list[Variant]] = defaultdict(list)
    for row in rows:
        groups[_arrangement(row)].append(row)
    for same in groups.values():
        if len(same) > 1 and not any(row.odd or row.remarks for row in same):
            yield f"{', '.join(row.id for row in same)}: twins, and no word on why"


def shared_ids(rows: Iterable[Variant]) -> Iterator[str]:
    """Tell of models that share id, chip, units and memory, with nothing to part them.

    A board sold again under another name is that: one of its rows says so.
    """
    groups: dict[tuple[object, ...], list[Variant]] = defaultdict(list)
    for row in rows:
        for pci in row.pci:
            memory = (row.memory_bytes, row.memory_type, row.bus_bits)
            groups[pci, row.chip, row.units, *memory].append(row)
    for place, same in groups.items():
        models = {row.model for row in same}
        parted = sum(bool(row.revisions or row.subsystems) for row in same)
        told = any(row.odd or row.remarks for row in same)
        if len(models) > 1 and parted < len(same) and not told:
            names = ", ".join(sorted(models))
            yield f"{place[0]}: {names} share it, nothing parts them"


def order(rows: Iterable[Variant]) -> Iterator[str]:
    """Tell of names whose units or launch run against their numbers.

    Compared are desktop cards of one family, architecture, brand and hundred (thousand
    of AMD's four digits): 1060 and 1070, but not 480 and 550.
    """
    named: dict[tuple[object, ...], dict[tuple[int, str], list[Variant]]] = {}
    for row in rows:
        parts = _NAME.match(row.model)
        if row.form != "desktop" or not parts:
            continue
        brand, number, suffix = parts[1].strip(), int(parts[2]), parts[3].strip()
        thousands = row.vendor == "AMD" and number >= 1000  # noqa: PLR2004 - four digits
        series = number // (1000 if thousands else 100)
        line = named.setdefault((row.family, row.architecture, brand, series), {})
        line.setdefault((number, suffix), []).append(row)
    for line in named.values():
        yield from _rising(line)
        yield from _suffixed(line)


def dates(rows: Iterable[Variant]) -> Iterator[str]:
    """Tell of cards that were last made before their launch."""
    for row in rows:
        if row.last_made and row.launch and row.last_made[:4] < row.launch[:4]:
            yield f"{row.id}: last made before its launch"


def orphans(table: Table) -> Iterator[str]:
    """Tell of chips and architectures that no card has, and sources nothing cites."""
    used = {row.chip for row in table.variants} | {one.chip for one in table.seen}
    for name in sorted(set(table.chips) - used):
        yield f"chips.toml: {name}: no card has it"
    kinds = {chip.architecture for chip in table.chips.values()}
    for name in sorted(set(table.architectures) - kinds):
        yield f"architectures.toml: {name}: no chip has it"
    cited = {source for row in table.variants for source in row.sources}
    cited |= {one.source for one in table.seen}
    cited |= {source for chip in table.chips.values() for source in chip.source}
    cited |= {source for mark in table.marks.values() for source in mark.source}
    cited |= {source for kind in table.architectures.values() for source in kind.source}
    said = " ".join(
        text for row in table.variants for one in row.conflicts for text in one.says
    )
    for name in sorted(set(table.sources) - cited):
        if name not in said:
            yield f"sources.toml: {name}: nothing cites it"
    for name in sorted(cited - set(table.sources)):
        yield f"sources.toml: {name}: cited, and not there"


def _rising(line: dict[tuple[int, str], list[Variant]]) -> Iterator[str]:
    """Tell of bare numbers that have fewer units than a lower bare number."""
    bare = sorted(number for number, suffix in line if not suffix)
    for low, high in pairwise(bare):
        less, more = line[low, ""], line[high, ""]
        if _most(less) > _most(more) and not _told(less + more):
            yield (
                f"{more[0].model}: {_most(more)} units, and {less[0].model} has "
                f"{_most(less)}"
            )


def _suffixed(line: dict[tuple[int, str], list[Variant]]) -> Iterator[str]:
    for (number, suffix), rows in line.items():
        bare = line.get((number, ""))
        if not suffix or not bare or _told(rows):
            continue
        if (suffix in _MORE and _most(rows) < _most(bare)) or (
            suffix in _LESS and _most(rows) > _most(bare)
        ):
            yield f"{rows[0].model}: {_most(rows)} units against {_most(bare)}"
        if suffix in _LATER and _launch(rows) < _launch(bare):
            yield f"{rows[0].model}: launched before {bare[0].model}"


def _most(rows: list[Variant]) -> int:
    return max(row.units for row in rows)


def _launch(rows: list[Variant]) -> str:
    return min((row.launch for row in rows if row.launch), default="9")


def _told(rows: list[Variant]) -> bool:
    return any(row.odd for row in rows)


def _arrangement(row: Variant) -> tuple[object, ...]:
    return (
        row.model, row.form, row.chip, row.units, row.memory_bytes, row.memory_type,
        row.bus_bits, row.rate_mtps,
    )  # fmt: skip
