"""Genuine cards as plain data: what lookups hand over, and the objects of their JSON.

Types and their encoding alone. Units are in the names; what is unknown is null.
"""

from collections.abc import Sequence

import msgspec

from reports.base import Base
from reports.record import Envelope
from reports.text import inert


class KnownConflict(Base, frozen=True, kw_only=True):
    """Sources that disagree about one field."""

    field: str
    says: tuple[str, ...]
    used: str
    why: str


class KnownCard(Base, frozen=True, kw_only=True):
    """One variant of a model: one object of `--json`. Unknown is null."""

    vendor: str
    family: str
    model: str
    aliases: tuple[str, ...]
    form: str
    """desktop, laptop, workstation or server."""
    chip: str
    chip_names: tuple[str, ...]
    architecture: str
    compute_capability: str | None
    gfx_targets: tuple[str, ...]
    unit_name: str
    units: int
    chip_units: int
    shaders: int
    base_mhz: int
    boost_mhz: int | None
    shader_mhz: int | None
    processors: int
    """Graphics processors on the board: units and memory are those of one."""
    memory_bytes: int
    memory_type: str
    bus_width_bits: int
    data_rate_mtps: int
    bandwidth_gbps: float
    """10^9 bytes a second."""
    fp32_gflops: float
    """At the shader clock where lanes have their own, else boost, else base."""
    fp64_per_clock: tuple[float, float] | None
    """Double-precision results a clock and unit: least, most."""
    fp16_per_clock: tuple[float, float] | None
    ecc: bool
    l2_kib: int | None
    llc_mib: int | None
    pci_ids: tuple[str, ...]
    pci_revisions: tuple[str, ...]
    pci_subsystems: tuple[str, ...]
    pcie: str | None
    """Generation and lanes, as "3 x16"."""
    power_w: int | None
    power_plugs: tuple[str, ...] | None
    outputs: tuple[str, ...] | None
    launch: str | None
    last_made: str | None
    remarks: tuple[str, ...]
    conflicts: tuple[KnownConflict, ...]
    odd: str | None
    not_judged: tuple[str, ...]
    """Rates that this model's makers hold back: no judgement is made by them."""
    source: str
    """Ids of sources, a comma between them."""
    from_memory: tuple[str, ...]


class KnownSource(Base, frozen=True, kw_only=True):
    """A source by its id."""

    id: str
    title: str
    publisher: str
    date: str


class Lookup(Base, frozen=True, kw_only=True):
    """The answer to one question."""

    asked: str
    cards: tuple[KnownCard, ...]
    full: bool = True
    """All facts of each card; False: a line each."""
    envelopes: tuple[Envelope, ...] = ()
    """What genuine cards of all these rows show."""
    siblings: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """Each chip with the other cards made of it, in words."""
    notes: tuple[str, ...] = ()
    sources: tuple[KnownSource, ...] = ()


class FamilyCount(Base, frozen=True, kw_only=True):
    """How much of one generation the table holds."""

    vendor: str
    family: str
    models: int
    variants: int
    facts: float
    """Share of the optional facts that are known, 0 to 1."""


class FieldCount(Base, frozen=True, kw_only=True):
    """In how many variants of each vendor one optional fact is known."""

    field: str
    known: dict[str, int]


class Coverage(Base, frozen=True, kw_only=True):
    """What the table holds and what it lacks."""

    version: str
    sha256: str
    models: int
    variants: dict[str, int]
    """By vendor."""
    families: tuple[FamilyCount, ...]
    fields: tuple[FieldCount, ...]


def encode(value: Coverage | Sequence[KnownCard]) -> bytes:
    """Return cards, or the coverage, as indented JSON."""
    return inert(msgspec.json.format(msgspec.json.encode(value), indent=1)) + b"\n"
