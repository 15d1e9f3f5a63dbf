"""The table of genuine cards: read once, asked by name, PCI id or chip.

Holds rows and finds them. What a row means in measured figures is `envelope.py`'s
matter; what follows for a card is the judge's.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from functools import cached_property
from pathlib import Path

from reference import checks, compiled, gather, names
from reference.compiled import Content
from reference.rows import Architecture, Chip, Mark, Seen, Variant

VERSION = "2026.11.5"
"""Moves with every change of a fact in reference/data."""

_FIRMWARE = re.compile(
    r"(?<![0-9a-f.])([0-9a-f]{2})\.([0-9a-f]{1,2})(?:\.[0-9a-f]{1,2}){2,3}\b"
)
"""`86.04.50.80.13`; Windows prints it without leading zeros."""

DATA = Path(__file__).parent / "data"


class Table:
    """All rows, and the ways to find them. Made by :func:`load`."""

    def __init__(self, content: Content) -> None:
        self.version = VERSION
        self.sha256 = content.sha256
        self.variants = content.variants
        self.chips = content.chips
        self.architectures = content.architectures
        self.sources = content.sources
        self.seen = content.seen
        self.marks = content.marks
        self._content = content

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
                row
                for row in self._named(stem)
                if size in (row.memory_bytes, row.memory_bytes * row.processors)
            )
        return tuple(found)

    def near(self, name: str, limit: int = 5) -> tuple[str, ...]:
        """Return model names that look like `name`, the most alike first."""
        from difflib import SequenceMatcher  # noqa: PLC0415 - unknown names are rare

        wanted = names.key(name)
        numbers = _numbers(wanted) | _numbers(name)  # `3080 10GB` is one run in a key
        alike = SequenceMatcher(b=wanted)

        def likeness(key: str, least: float) -> float:
            alike.set_seq1(key)
            quick = min(alike.real_quick_ratio(), alike.quick_ratio())
            return alike.ratio() if quick >= least else 0.0

        def best(keys: Iterable[str], least: float) -> list[str]:
            rated = [(-likeness(key, least), self._models[key][0]) for key in keys]
            return [model for rate, model in sorted(rated) if -rate >= least]

        found = best((k for k, (_, own) in self._models.items() if numbers & own), 0.0)
        if len(found) < limit:
            found += best(self._models, 0.6)
        return tuple(dict.fromkeys(found))[:limit]

    def by_pci(
        self, pci_id: str, subsystem: str | None = None, revision: str | None = None
    ) -> tuple[Variant, ...]:
        """Return the variants that carry a PCI id `10de:1b81`.

        Where the vendor tells models of one id apart by revision ("c7") or subsystem
        ("10de:119d"), either narrows the answer to the models that list it.
        """
        found = self._ids.get(pci_id.casefold(), ())
        if subsystem is not None:
            wanted = subsystem.casefold()
            found = tuple(row for row in found if wanted in row.subsystems) or found
        if revision is not None:
            wanted = revision.casefold()
            found = tuple(row for row in found if wanted in row.revisions) or found
        return found

    def chips_seen(self, rows: Iterable[Variant]) -> frozenset[str]:
        """Return further chips on which models of these names are known to exist."""
        models = {row.model for row in rows}
        found = (self._seen.get(names.key(model), ()) for model in models)
        return frozenset(chip for chips in found for chip in chips)

    def seen_by_pci(self, pci_id: str, rows: Iterable[Variant]) -> tuple[Seen, ...]:
        """Return what is known of models of these names that carry a PCI id."""
        keys = {names.key(row.model) for row in rows}
        return tuple(
            one
            for one in self.seen
            if one.pci == pci_id.casefold() and names.key(one.model) in keys
        )

    def chip_by_window(self, pci_id: str) -> str | None:
        """Return the NVIDIA chip whose id window holds `10de:1b81`, if exactly one."""
        vendor, _, device = pci_id.casefold().partition(":")
        if vendor != "10de" or not re.fullmatch(r"[0-9a-f]{4}", device):
            return None
        return self._windows.get(int(device, 16) >> 5)

    def chips_by_function(self, pci_id: str) -> tuple[str, ...]:
        """Return the chips whose audio or USB function carries `10de:10f0`."""
        return self._functions.get(pci_id.casefold(), ())

    def chips_by_silicon(self, chip_id: str) -> tuple[str, ...]:
        """Return the NVIDIA chips whose own register holds a chip id such as `134`."""
        return self._silicon.get(chip_id.casefold().zfill(3), ())

    def chips_by_firmware(self, version: str) -> tuple[str, ...]:
        """Return the NVIDIA chips for which firmware `86.04.50.80.13` is made."""
        found = _FIRMWARE.search(version.casefold())
        return self._firmware.get(f"{found[1]}.{found[2]:0>2}", ()) if found else ()

    def chips_named(self, name: str) -> tuple[str, ...]:
        """Return the chips that `name` is itself a name or compiler target of.

        Some drivers print the chip's name where others print the model.
        """
        return self._chips.get(names.gfx(name) or names.key(name), ())

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
        found = self._names.get(wanted, ()) if wanted else ()
        return tuple(self.variants[place] for place in found)

    @cached_property
    def _names(self) -> dict[str, tuple[int, ...]]:
        return self._content.names or compiled.index(self._content)

    @cached_property
    def _models(self) -> dict[str, tuple[str, frozenset[str]]]:
        """By comparable name: the model, and the numbers in its name."""
        keys = {names.key(one): one for one in {row.model for row in self.variants}}
        return {key: (model, _numbers(key)) for key, model in keys.items()}

    @cached_property
    def _ids(self) -> dict[str, tuple[Variant, ...]]:
        found: dict[str, dict[Variant, None]] = {}
        for row in self.variants:
            for pci in row.pci:
                found.setdefault(pci, {})[row] = None
        return {pci: tuple(rows) for pci, rows in found.items()}

    @cached_property
    def _chips(self) -> dict[str, tuple[str, ...]]:
        """By comparable name of a chip or compiler target: the chips."""
        found: dict[str, dict[str, None]] = {}
        for one, chip in self.chips.items():
            for name in (one, *chip.names, *chip.gfx):
                found.setdefault(names.key(name), {})[one] = None
        return {name: tuple(chips) for name, chips in found.items()}

    @cached_property
    def _seen(self) -> dict[str, tuple[str, ...]]:
        """By comparable name of a model: further chips that it is known on."""
        found: dict[str, dict[str, None]] = {}
        for one in self.seen:
            found.setdefault(names.key(one.model), {})[one.chip] = None
        return {name: tuple(chips) for name, chips in found.items()}

    @cached_property
    def _windows(self) -> dict[int, str]:
        found: dict[int, str] = {}
        kinds: tuple[Mapping[str, Chip | Mark], ...] = (self.chips, self.marks)
        for kind in kinds:
            for name, one in kind.items():
                for window in one.windows:
                    found |= dict.fromkeys(checks.blocks(window), name)
        return found

    @cached_property
    def _functions(self) -> dict[str, tuple[str, ...]]:
        return self._marked(lambda mark: (*mark.audio, *mark.usb))

    @cached_property
    def _silicon(self) -> dict[str, tuple[str, ...]]:
        return self._marked(lambda mark: mark.silicon)

    @cached_property
    def _firmware(self) -> dict[str, tuple[str, ...]]:
        return self._marked(lambda mark: mark.firmware)

    def _marked(
        self, of: Callable[[Mark], tuple[str, ...]]
    ) -> dict[str, tuple[str, ...]]:
        found: dict[str, tuple[str, ...]] = {}
        for name, mark in self.marks.items():
            for one in of(mark):
                found[one] = (*found.get(one, ()), name)
        return found


def _numbers(key: str) -> frozenset[str]:
    return frozenset(re.findall(r"\d{3,}", key))


def load(extra: Path | None = None, data: Path = DATA) -> Table:
    """Read the table. `extra` is a cards file that adds or overrides rows.

    A row of `extra` takes the place of the shipped rows of the same model, form, chip,
    units and memory size. Reads the compiled form where it is a sound copy of the TOML
    files beside it, else those. Raises TableError with every mistake of every file.
    """
    files = gather.sources(data)
    try:
        copy = (data / compiled.NAME).read_bytes()
    except OSError:
        copy = b""
    content = compiled.unpack(copy, gather.digest(files)) or gather.gather(files)
    return Table(content if extra is None else gather.overlay(content, extra))
