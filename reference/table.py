"""The table of genuine cards: read once, asked by name, PCI id or chip.

Holds rows and finds them. What a row means in measured figures is `envelope.py`'s
matter; what follows for a card is the judge's.
"""

import difflib
import hashlib
import re
from collections.abc import Iterable, Mapping
from functools import cached_property
from pathlib import Path
from typing import TypeVar

from reference import checks, names, reading
from reference.errors import TableError
from reference.rows import Architecture, Card, CardsFile, Chip, Seen, Source, Variant

VERSION = "2026.11"
"""Moves with every change of a fact in reference/data."""

DATA = Path(__file__).parent / "data"
_SIZE_LIMIT = 8 * 2**20

Shape = TypeVar("Shape")


class Table:
    """All rows, and the ways to find them. Made by :func:`load`."""

    def __init__(
        self,
        variants: Iterable[Variant],
        chips: Mapping[str, Chip],
        architectures: Mapping[str, Architecture],
        sources: Mapping[str, Source],
        seen: Iterable[Seen],
        sha256: str,
    ) -> None:
        self.version = VERSION
        self.sha256 = sha256
        self.variants = tuple(variants)
        self.chips = dict(chips)
        self.architectures = dict(architectures)
        self.sources = dict(sources)
        self.seen = tuple(seen)

    def resolve(self, name: str) -> tuple[Variant, ...]:
        """Return every variant that a name can mean; empty where it is unknown.

        A name is a model, an alias, a chip's name or compiler target, each also with
        a memory size behind it, which then must be one that was made.
        """
        found = dict.fromkeys(self._named(name))
        sized = names.split_size(name)
        if sized:
            stem, size = sized
            found |= dict.fromkeys(
                row for row in self._named(stem) if row.memory_bytes == size
            )
        return tuple(found)

    def near(self, name: str, limit: int = 5) -> tuple[str, ...]:
        """Return model names that look like `name`, the most alike first."""
        wanted = names.key(name)
        models = {names.key(row.model): row.model for row in self.variants}
        numbers = set(re.findall(r"\d{3,}", wanted))
        holding = [
            model
            for key, model in models.items()
            if numbers and numbers & set(re.findall(r"\d{3,}", key))
        ]
        holding.sort(
            key=lambda model: (
                -difflib.SequenceMatcher(None, wanted, names.key(model)).ratio(),
                model,
            )
        )
        alike = [
            models[key]
            for key in difflib.get_close_matches(wanted, models, n=limit, cutoff=0.6)
        ]
        return tuple(dict.fromkeys([*holding, *alike]))[:limit]

    def by_pci(
        self,
        pci_id: str,
        subsystem: str | None = None,  # noqa: ARG002 - comes with rows that differ by it
        revision: str | None = None,
    ) -> tuple[Variant, ...]:
        """Return the variants that carry a PCI id `10de:1b81`.

        Where the vendor tells models of one id apart by revision, `revision` ("c7")
        narrows the answer to the models that list it.
        """
        found = self._pci.get(pci_id.casefold(), ())
        if revision is None:
            return found
        exact = tuple(row for row in found if revision.casefold() in row.revisions)
        return exact or found

    def chips_seen(self, rows: Iterable[Variant]) -> frozenset[str]:
        """Return further chips on which models of these names are known to exist."""
        models = {names.key(row.model) for row in rows}
        return frozenset(
            one.chip for one in self.seen if names.key(one.model) in models
        )

    def chip_by_window(self, pci_id: str) -> str | None:
        """Return the NVIDIA chip whose id window holds `10de:1b81`, if exactly one."""
        vendor, _, device = pci_id.casefold().partition(":")
        if vendor != "10de" or not re.fullmatch(r"[0-9a-f]{4}", device):
            return None
        return self._windows.get(int(device, 16) >> 5)

    def chips_named(self, name: str) -> tuple[str, ...]:
        """Return the chips that `name` is itself a name or compiler target of.

        Some drivers print the chip's name where others print the model.
        """
        wanted = names.gfx(name) or names.key(name)
        return tuple(
            one
            for one, chip in self.chips.items()
            if wanted in map(names.key, (one, *chip.names, *chip.gfx))
        )

    @staticmethod
    def gfx(name: str) -> str | None:
        """Return the bare compiler target of `gfx1030:xnack-`, None for other text."""
        return names.gfx(name)

    def chip(self, row: Variant) -> Chip:
        """Return the chip that a row is made of."""
        return self.chips[row.chip]

    def architecture(self, row: Variant) -> Architecture:
        """Return the architecture that a row is made of."""
        return self.architectures[row.architecture]

    def _named(self, name: str) -> tuple[Variant, ...]:
        wanted = names.gfx(name) or names.key(name)
        return self._names.get(wanted, ()) if wanted else ()

    @cached_property
    def _names(self) -> dict[str, tuple[Variant, ...]]:
        found: dict[str, dict[Variant, None]] = {}
        for row in self.variants:
            chip = self.chips[row.chip]
            for name in (row.model, *row.aliases, row.chip, *chip.names, *chip.gfx):
                found.setdefault(names.key(name), {})[row] = None
        return {name: tuple(rows) for name, rows in found.items()}

    @cached_property
    def _pci(self) -> dict[str, tuple[Variant, ...]]:
        found: dict[str, list[Variant]] = {}
        for row in self.variants:
            for pci in row.pci:
                found.setdefault(pci, []).append(row)
        return {pci: tuple(rows) for pci, rows in found.items()}

    @cached_property
    def _windows(self) -> dict[int, str]:
        found: dict[int, str] = {}
        for name, chip in self.chips.items():
            for window in chip.windows:
                low, high = (int(end, 16) >> 5 for end in window.split("-"))
                found |= dict.fromkeys(range(low, high + 1), name)
        return found


def load(extra: Path | None = None, data: Path = DATA) -> Table:
    """Read the table. `extra` is a cards file that adds or overrides rows.

    A row of `extra` takes the place of the shipped rows of the same model, chip, units
    and memory size. Raises TableError with every mistake of every file.
    """
    mistakes: list[str] = []
    paths = [data / "architectures.toml", data / "chips.toml", data / "sources.toml"]
    paths += sorted((data / "cards").glob("*.toml"))
    digest = hashlib.sha256()
    raws = []
    for path in [*paths, *([extra] if extra is not None else [])]:
        content = _read(path, mistakes)
        digest.update(f"{path.name if path != extra else ''}\0".encode() + content)
        raws.append((path, reading.parse(path, content, mistakes)))
    architectures = _tables(*raws[0], Architecture, mistakes)
    chips = _tables(*raws[1], Chip, mistakes)
    sources = _tables(*raws[2], Source, mistakes)
    if mistakes:
        raise TableError(tuple(mistakes))
    mistakes += checks.chips(chips, architectures, sources)
    rows: dict[str, Variant] = {}
    seen: list[Seen] = []
    for path, raw in raws[3:]:
        file = reading.shape(raw, CardsFile, f"{path.name}: $", mistakes)
        if file is None:
            continue
        sources |= file.sources
        seen += file.seen
        mistakes += checks.cards(path.name, file, chips, architectures, sources)
        if not mistakes:
            _add(rows, file, path, chips, architectures, path == extra, mistakes)
    if mistakes:
        raise TableError(tuple(_tidy(line) for line in mistakes))
    return Table(rows.values(), chips, architectures, sources, seen, digest.hexdigest())


def _read(path: Path, mistakes: list[str]) -> bytes:
    try:
        with path.open("rb") as file:
            content = file.read(_SIZE_LIMIT + 1)
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
    path: Path,
    chips: Mapping[str, Chip],
    architectures: Mapping[str, Architecture],
    overrides: bool,  # noqa: FBT001 - said by name at the one call
    mistakes: list[str],
) -> None:
    fresh: dict[str, Variant] = {}
    for number, card in enumerate(file.card, 1):
        for row in _variants(card, file, chips, architectures):
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


def _place(row: Variant) -> tuple[str, str, int, int]:
    return names.key(row.model), row.chip, row.units, row.memory_bytes


def _variants(
    card: Card,
    file: CardsFile,
    chips: Mapping[str, Chip],
    architectures: Mapping[str, Architecture],
) -> Iterable[Variant]:
    chip = chips[card.chip]
    architecture = architectures[chip.architecture]
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
        )


def _tidy(line: str) -> str:
    return line.replace(": $.", ": ").replace(": $:", ":")
