"""The TOML files into rows: every row of every file, or every mistake of every file.

Reads and combines. What a row must satisfy stands in `checks.py`; how rows are found
is `table.py`'s matter.
"""

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import TypeVar

from msgspec.structs import replace

from reference import checks, names, reading
from reference.compiled import Content
from reference.errors import TableError
from reference.rows import (
    Architecture,
    Card,
    CardsFile,
    Chip,
    Mark,
    Source,
    Variant,
)
from reports.files import contents
from reports.text import plain

_SIZE_LIMIT = 2**20
"""Largest file read, in bytes: far more than all cards of a maker take."""
_MOST_MISTAKES = 100
_LINE = 1000

Shape = TypeVar("Shape")


def sources(data: Path) -> dict[Path, bytes]:
    """Return the content of the TOML files under `data`, the four shared ones first.

    Raises TableError where one cannot be read.
    """
    mistakes: list[str] = []
    shared = ("architectures", "chips", "sources", "marks")
    paths = [data / f"{name}.toml" for name in shared]
    paths += sorted((data / "cards").glob("*.toml"))
    found = {path: _read(path, mistakes) for path in paths}
    if mistakes:
        raise TableError(tuple(mistakes))
    return found


def digest(files: Mapping[Path, bytes]) -> str:
    """Return one sha256 over names and contents: it identifies the table."""
    total = hashlib.sha256()
    for path, content in files.items():
        total.update(f"{path.name}\0{len(content)}\0".encode() + content)
    return total.hexdigest()


def gather(files: Mapping[Path, bytes]) -> Content:
    """Return all rows of what :func:`sources` read. Raises TableError."""
    mistakes: list[str] = []
    raws = [
        (path, reading.parse(path, content, mistakes))
        for path, content in files.items()
    ]
    content = Content(
        sha256=digest(files),
        architectures=_tables(*raws[0], Architecture, mistakes),
        chips=_tables(*raws[1], Chip, mistakes),
        sources=_tables(*raws[2], Source, mistakes),
        marks=_tables(*raws[3], Mark, mistakes),
    )
    if mistakes:
        raise TableError(tuple(mistakes))
    mistakes += checks.chips(content.chips, content.architectures, content.sources)
    mistakes += checks.marks(content)
    rows: dict[str, Variant] = {}
    for path, raw in raws[4:]:
        content = _file(path, raw, content, rows, False, mistakes)
    _stop_at(mistakes)
    return replace(content, variants=tuple(rows.values()))


def overlay(content: Content, path: Path) -> Content:
    """Return `content` with the rows of a further file, which override.

    A row takes the place of the rows of the same model, form, chip, units and memory
    size. Raises TableError with every mistake of the file.
    """
    mistakes: list[str] = []
    data = _read(path, mistakes)
    _stop_at(mistakes)
    return overlaid(content, path, data)


def overlaid(content: Content, path: Path, data: bytes) -> Content:
    """Return `content` with the rows of a file's `data`; see :func:`overlay`."""
    mistakes: list[str] = []
    raw = reading.parse(path, data, mistakes)
    _stop_at(mistakes)
    rows = {row.id: row for row in content.variants}
    made = _file(path, raw, content, rows, True, mistakes)
    _stop_at(mistakes)
    together = hashlib.sha256(content.sha256.encode() + b"\0" + data)
    return replace(
        made, variants=tuple(rows.values()), sha256=together.hexdigest(), names=None
    )


def _file(
    path: Path,
    raw: object,
    content: Content,
    rows: dict[str, Variant],
    overrides: bool,  # noqa: FBT001 - of two callers
    mistakes: list[str],
) -> Content:
    """Add one file of cards to `rows`; return `content` with what else it brings."""
    file = reading.shape(raw, CardsFile, f"{path.name}: $", mistakes)
    numbered = enumerate(file.card, 1) if file else _sound(raw)
    file = file or _salvage(raw)
    if file is None:
        return content
    content = replace(
        content,
        sources=content.sources | file.sources,
        seen=(*content.seen, *file.seen),
    )
    cards = tuple(numbered)
    mistakes += checks.cards(path.name, file, cards, content)
    _add(rows, file, cards, path, content, overrides, mistakes)
    return content


def _salvage(raw: object) -> CardsFile | None:
    """Return the head of a file whose rest is broken, so that its cards are checked."""
    if not isinstance(raw, dict):
        return None
    keys = ("vendor", "family", "source", "sources")
    head = {key: raw[key] for key in keys if key in raw}
    return reading.shape(head, CardsFile, "", [])


def _sound(raw: object) -> Iterator[tuple[int, Card]]:
    """Return the cards of a broken file that are sound, each with its number."""
    cards = raw.get("card") if isinstance(raw, dict) else None
    for number, one in enumerate(cards if isinstance(cards, list) else (), 1):
        card = reading.shape(one, Card, "", [])
        if card is not None:
            yield number, card


def _stop_at(mistakes: list[str]) -> None:
    if mistakes:
        shown = [_tidy(line) for line in mistakes[:_MOST_MISTAKES]]
        if len(mistakes) > _MOST_MISTAKES:
            shown.append(f"and {len(mistakes) - _MOST_MISTAKES} further mistakes")
        raise TableError(tuple(shown))


def _read(path: Path, mistakes: list[str]) -> bytes:
    try:
        content = contents(path, _SIZE_LIMIT)
    except OSError as error:
        mistakes.append(f"{path}: cannot be read: {error.strerror}")
        return b""
    if len(content) > _SIZE_LIMIT:
        mistakes.append(f"{path}: larger than {_SIZE_LIMIT} bytes, not read")
        return b""
    return content


def _tables(
    path: Path, raw: Mapping[str, object], kind: type[Shape], mistakes: list[str]
) -> dict[str, Shape]:
    shaped = {
        name: reading.shape(value, kind, f"{path.name}: {name}", mistakes)
        for name, value in raw.items()
    }
    return {name: value for name, value in shaped.items() if value is not None}


def _add(
    rows: dict[str, Variant],
    file: CardsFile,
    cards: tuple[tuple[int, Card], ...],
    path: Path,
    content: Content,
    overrides: bool,  # noqa: FBT001 - as above
    mistakes: list[str],
) -> None:
    fresh: dict[str, Variant] = {}
    for number, card in cards:
        for row in _variants(card, file, content):
            if row.id in fresh or (row.id in rows and not overrides):
                mistakes.append(
                    f"{path.name}: card[{number}] ({card.model}): "
                    f"the row {row.id} is there already"
                )
            fresh[row.id] = row
    if overrides:
        taken = {_place(row) for row in fresh.values()}
        for one in [one for one, row in rows.items() if _place(row) in taken]:
            del rows[one]
    rows |= fresh


def _place(row: Variant) -> tuple[str, str, str, int, int]:
    return names.key(row.model), row.form, row.chip, row.units, row.memory_bytes


def _variants(
    card: Card,
    file: CardsFile,
    content: Content,
) -> Iterable[Variant]:
    chip = content.chips.get(card.chip)
    if chip is None or chip.architecture not in content.architectures:
        return  # told by the checks
    architecture = content.architectures[chip.architecture]
    slug = re.sub(r"[^a-z0-9]+", "-", card.model.casefold()).strip("-")
    form = "" if card.form == "desktop" else f"/{card.form}"
    for memory in card.memory:
        whole = (card.units, memory.bus_bits) == (chip.units, chip.bus_bits)
        yield Variant(
            id=f"{slug}{form}/{card.chip.casefold().replace(' ', '-')}-{card.units}"
            f"/{card.base_mhz}/{memory.mib}-{memory.type.casefold()}"
            f"-{memory.bus_bits}-{memory.rate_mtps}",
            vendor=file.vendor,
            family=file.family,
            model=card.model,
            aliases=card.aliases,
            form=card.form,
            chip=card.chip,
            architecture=chip.architecture,
            units=card.units,
            shaders=card.units * architecture.lanes,
            base_mhz=card.base_mhz,
            boost_mhz=card.boost_mhz,
            shader_mhz=card.shader_mhz,
            fp64=card.fp64 if card.fp64 is not None else chip.fp64,
            fp16=card.fp16 if card.fp16 is not None else chip.fp16,
            ecc=card.ecc,
            l2_kib=card.l2_kib or (chip.l2_kib if whole else None),
            llc_mib=card.llc_mib,
            memory_bytes=memory.mib * 2**20,
            memory_type=memory.type,
            bus_bits=memory.bus_bits,
            rate_mtps=memory.rate_mtps,
            pci=card.pci,
            revisions=card.revisions,
            subsystems=card.subsystems,
            outside_window=card.outside_window,
            pcie=card.pcie,
            power_w=card.power_w,
            power_plugs=card.power_plugs,
            outputs=card.outputs,
            launch=card.launch,
            last_made=card.last_made,
            remarks=card.remarks,
            conflicts=card.conflict,
            odd=card.odd,
            sources=checks.listed(card.source or file.source),
            from_memory=card.from_memory,
            processors=card.processors,
            not_judged=card.not_judged,
        )


def _tidy(line: str) -> str:
    """Return a mistake as one line: what it quotes of the file may be anything."""
    return plain(line.replace(": $.", ": ").replace(": $:", ":"), _LINE)
