"""The shapes of the data files, and of one row of the table they make together.

Types alone: nothing here reads, checks across files or decides. Units are in the names;
what is unknown is None.
"""

from typing import Annotated, Literal

from msgspec import Meta, Struct

Word = Annotated[str, Meta(min_length=1, max_length=200)]
Sentence = Annotated[str, Meta(min_length=1, max_length=400)]
Key = Annotated[str, Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9 .\-]*$", max_length=60)]
PciId = Annotated[str, Meta(pattern=r"^(10de|1002|8086):[0-9a-f]{4}$")]
PciPair = Annotated[str, Meta(pattern=r"^[0-9a-f]{4}:[0-9a-f]{4}$")]
Revision = Annotated[str, Meta(pattern=r"^[0-9a-f]{2}$")]
Window = Annotated[str, Meta(pattern=r"^[0-9a-f]{4}-[0-9a-f]{4}$")]
Date = Annotated[str, Meta(pattern=r"^\d{4}(-\d{2}(-\d{2})?)?$")]
Link = Annotated[str, Meta(pattern=r"^[1-6] x(1|2|4|8|16)$")]
Megahertz = Annotated[int, Meta(ge=50, le=10_000)]
Units = Annotated[int, Meta(ge=1, le=1024)]
_LEAST = 2**-10
"""Below any share or count a clock that silicon has, and above what divides badly."""
Results = Annotated[float, Meta(ge=_LEAST, le=4096)]
Share = Annotated[float, Meta(ge=_LEAST, le=2)]
Sources = Word | Annotated[tuple[Word, ...], Meta(min_length=1)]
Pair = tuple[Results, Results]
Band = tuple[Share, Share]

Vendor = Literal["NVIDIA", "AMD", "Intel"]
Form = Literal["desktop", "laptop", "workstation", "server"]
MemoryType = Literal[
    "DDR2", "DDR3", "DDR4", "GDDR3", "GDDR5", "GDDR5X", "GDDR6", "GDDR6X", "GDDR7",
    "HBM", "HBM2", "HBM2e", "HBM3", "HBM3e",
]  # fmt: skip
Socket = Literal[
    "DVI-D", "DVI-I", "VGA", "HDMI", "mini-HDMI", "DP", "mini-DP", "USB-C", "S-Video",
]  # fmt: skip
Plug = Literal["4-pin", "6-pin", "8-pin", "12-pin", "16-pin", "CPU 8-pin"]
Judged = Literal["fp64", "fp16", "int32", "transcendental"]
Rated = Literal["fp32", "fp64", "fp16", "int32", "transcendental"]


class Row(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What all shapes share: strict, unchangeable."""


class Source(Row, frozen=True, kw_only=True):
    """A source, see sources.toml."""

    title: Word
    publisher: Word
    date: Word


class Architecture(Row, frozen=True, kw_only=True):
    """What one unit does in a clock, see architectures.toml."""

    vendor: Vendor
    unit_name: Word
    lanes: Units
    warp: Literal[16, 32, 64]
    fma_cycles: Annotated[float, Meta(ge=_LEAST, le=64)] | None = None
    shared_kib: Annotated[int, Meta(ge=8, le=1024)] | None = None
    results: dict[Judged, Pair] = {}
    clock: Band
    fp32: Band
    capped: Share
    memory: dict[MemoryType, Band]
    units_as: tuple[Annotated[float, Meta(ge=_LEAST, le=64)], ...]
    memory_shown: Band
    unlocks: bool = False
    source: tuple[Word, ...]


class Chip(Row, frozen=True, kw_only=True):
    """One piece of silicon, see chips.toml."""

    architecture: Key
    units: Units
    bus_bits: Annotated[int, Meta(ge=32, le=8192)]
    l2_kib: Annotated[int, Meta(ge=16, le=2**20)] | None = None
    names: tuple[Word, ...] = ()
    compute_capability: Annotated[str, Meta(pattern=r"^[1-9][0-9]?\.[0-9]$")] | None = (
        None
    )
    gfx: tuple[Annotated[str, Meta(pattern=r"^gfx[0-9a-f]{3,4}$")], ...] = ()
    fp64: Results | None = None
    fp16: Results | None = None
    shared_kib: Annotated[int, Meta(ge=8, le=1024)] | None = None
    windows: tuple[Window, ...] = ()
    source: tuple[Word, ...]


class Mark(Row, frozen=True, kw_only=True):
    """What gives one chip away beside its display function's ids, see marks.toml."""

    audio: tuple[PciId, ...] = ()
    usb: tuple[PciId, ...] = ()
    silicon: tuple[Annotated[str, Meta(pattern=r"^[01][0-9a-f]{2}$")], ...] = ()
    firmware: tuple[
        Annotated[str, Meta(pattern=r"^[0-9a-f]{2}\.[0-9a-f]{2}$")], ...
    ] = ()
    windows: tuple[Window, ...] = ()
    source: tuple[Word, ...]


class Memory(Row, frozen=True, kw_only=True):
    """One arrangement of memory that a card was sold with."""

    mib: Annotated[int, Meta(ge=128, le=2**20)]
    type: MemoryType
    bus_bits: Annotated[int, Meta(ge=32, le=8192)]
    rate_mtps: Annotated[int, Meta(ge=200, le=60_000)]


class Conflict(Row, frozen=True, kw_only=True):
    """Sources that disagree about a field: what each says, what is used and why."""

    field: Word
    says: Annotated[tuple[Word, ...], Meta(min_length=2)]
    used: Word
    why: Sentence


class Card(Row, frozen=True, kw_only=True):
    """One product, see the head of cards/nvidia_10.toml."""

    model: Word
    aliases: tuple[Word, ...] = ()
    form: Form = "desktop"
    chip: Key
    units: Units
    base_mhz: Megahertz
    boost_mhz: Megahertz | None = None
    shader_mhz: Megahertz | None = None
    fp64: Results | None = None
    fp16: Results | None = None
    not_judged: tuple[Rated, ...] = ()
    ecc: bool = False
    l2_kib: Annotated[int, Meta(ge=16, le=2**20)] | None = None
    llc_mib: Annotated[int, Meta(ge=1, le=4096)] | None = None
    memory: Annotated[tuple[Memory, ...], Meta(min_length=1)]
    pci: tuple[PciId, ...] = ()
    revisions: tuple[Revision, ...] = ()
    subsystems: tuple[PciPair, ...] = ()
    outside_window: Word | None = None
    pcie: Link | None = None
    processors: Annotated[int, Meta(ge=1, le=8)] = 1
    power_w: Annotated[int, Meta(ge=5, le=2000)] | None = None
    power_plugs: tuple[Plug, ...] | None = None
    outputs: tuple[Socket, ...] | None = None
    launch: Date | None = None
    last_made: Date | None = None
    remarks: tuple[Sentence, ...] = ()
    conflict: tuple[Conflict, ...] = ()
    odd: Sentence | None = None
    source: Sources | None = None
    from_memory: tuple[Word, ...] = ()


class Seen(Row, frozen=True, kw_only=True):
    """A model known to exist on a chip whose details are unknown."""

    model: Word
    chip: Key
    pci: PciId
    source: Word


class CardsFile(Row, frozen=True, kw_only=True):
    """One file of cards."""

    vendor: Vendor
    family: Word
    source: Sources
    sources: dict[Key, Source] = {}
    """Sources of its own, for a file that is added for one run."""
    card: tuple[Card, ...] = ()
    seen: tuple[Seen, ...] = ()


class Variant(Struct, frozen=True, kw_only=True, array_like=True):
    """One row of the table: a model on one chip with one arrangement of memory.

    An array where it is packed: the compiled table is read at every start.
    """

    id: str
    vendor: Vendor
    family: str
    model: str
    aliases: tuple[str, ...]
    form: Form
    chip: str
    architecture: str
    units: int
    shaders: int
    base_mhz: int
    boost_mhz: int | None
    shader_mhz: int | None
    fp64: float | None
    """Double-precision results a clock and unit where known apart."""
    fp16: float | None = None
    """Half-precision results a clock and unit where known apart."""
    ecc: bool
    l2_kib: int | None = None
    """Second-level cache as enabled on this card."""
    llc_mib: int | None = None
    """Further last-level cache as enabled."""
    memory_bytes: int
    memory_type: MemoryType
    bus_bits: int
    rate_mtps: int
    pci: tuple[str, ...]
    revisions: tuple[str, ...]
    subsystems: tuple[str, ...] = ()
    outside_window: str | None
    pcie: str | None
    power_w: int | None
    power_plugs: tuple[str, ...] | None = None
    outputs: tuple[str, ...] | None = None
    launch: str | None
    last_made: str | None = None
    remarks: tuple[str, ...] = ()
    conflicts: tuple[Conflict, ...] = ()
    odd: str | None = None
    sources: tuple[str, ...]
    from_memory: tuple[str, ...] = ()
    """Fields whose value was written down from memory."""
    processors: int = 1
    """Graphics processors on the board, each with units and memory as stated."""
    not_judged: tuple[Rated, ...] = ()
    """Rates that firmware holds back on this model, or that nobody tells for sure."""

    def __hash__(self) -> int:
        """Hash the id alone: rows are looked up by the thousand."""
        return hash(self.id)

    @property
    def clock_hz(self) -> float:
        """The rated clock of the lanes: shader clock, else boost, else base."""
        return 1e6 * (self.shader_mhz or self.boost_mhz or self.base_mhz)

    @property
    def bandwidth(self) -> float:
        """Bytes a second on the memory bus: bus width x data rate / 8."""
        return self.bus_bits * self.rate_mtps * 1e6 / 8

    @property
    def fp32(self) -> float:
        """Rated FLOP/s: lanes x 2 x clock."""
        return self.shaders * 2 * self.clock_hz
