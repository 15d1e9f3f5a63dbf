"""What was read out of a firmware image and what was concluded: types alone.

A :class:`FirmwareReport` is what `cardassay firmware --json` prints, and fit to enter
a record as a layer of its own: it imports nothing of a record. Every text in it went
through :func:`reports.text.plain`; units are in the names; what an image does not hold
is None. Formats and decides nothing.
"""

from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta

from reports.base import Base, Count, Text, Word32
from reports.text import inert

SCHEMA: Literal[1] = 1
SIZE_LIMIT = 64 * 2**20
"""Largest image read, in bytes."""
READS_LIMIT = 16
"""Most reads of one chip compared."""

Digest = Annotated[str, Meta(pattern=r"^[0-9a-f]{64}$")]
PciPair = Annotated[str, Meta(pattern=r"^[0-9a-f]{4}:[0-9a-f]{4}$")]
Date = Annotated[str, Meta(pattern=r"^\d{4}-\d{2}-\d{2}$")]
Byte = Annotated[int, Meta(ge=0, le=0xFF)]
Word16 = Annotated[int, Meta(ge=0, le=0xFFFF)]
Bits = Annotated[float, Meta(ge=0.0, le=8.0)]
Share = Annotated[float, Meta(ge=0.0, le=1.0)]

DifferenceKind = Literal[
    "length",
    "blank",
    "dropped out",
    "shifted",
    "slipped",
    "data line",
    "address line",
    "scattered",
]
MapState = Literal["same", "few", "many", "blank", "beyond"]
Strength = Literal["strong", "supporting"]
"""Firmware can be rewritten: nothing that it says is decisive."""
Bearing = Literal["agrees", "contradicts", "fault", "explains", "open"]
FitState = Literal["same", "differs", "blocks", "unknown"]
FirmwareOutcome = Literal[
    "nothing against it", "not as claimed", "faulty", "does not fit", "undetermined"
]


class Read(Base, frozen=True, kw_only=True):
    """One file that was given."""

    name: Text
    size_bytes: Count
    sha256: Digest


class Difference(Base, frozen=True, kw_only=True):
    """How one read differs from the one it is held against."""

    read: Count
    """Places in `Comparison.reads`."""
    against: Count
    kind: DifferenceKind
    differing_bytes: Count
    """Bytes of the common length that differ."""
    first_byte: Count | None = None
    last_byte: Count | None = None
    risen_bits: Count = 0
    """Bits that are 0 in `against` and 1 in `read`."""
    fallen_bits: Count = 0
    bit_mask: Byte = 0
    """Which of the eight bits of a byte ever differ."""
    line: Annotated[int, Meta(ge=0, le=31)] | None = None
    """Number of the data or address line that does not move."""
    offset_bytes: int | None = None
    """By how far the content is shifted."""
    map: tuple[MapState, ...] = ()
    """The common length in equal stretches, lowest address first."""
    sentence: Text


class Comparison(Base, frozen=True, kw_only=True):
    """Repeated reads of one chip."""

    reads: tuple[Read, ...]
    identical: bool
    agreeing: tuple[Count, ...]
    """The largest set of reads that are byte for byte the same."""
    differences: tuple[Difference, ...] = ()
    cell_bytes: Count = 0
    """What one cell of a map stands for."""


class Surface(Base, frozen=True, kw_only=True):
    """The file as a whole, before anything in it is understood."""

    size_bytes: Count
    power_of_two: bool
    ones_bytes: Count
    """Bytes FF: what an erased or absent chip reads as."""
    zero_bytes: Count
    tail_bytes: Count
    """FF or 00 at the end."""
    repeats_bytes: Count | None = None
    """The content repeats every so many bytes: a power of two below the size."""
    folded_line: Annotated[int, Meta(ge=0, le=31)] | None = None
    """An address line that makes no difference anywhere, below the highest one."""
    stuck_ones: Byte = 0
    """Bits of a byte that are 1 in every byte of the file."""
    stuck_zeros: Byte = 0
    entropy: tuple[Bits, ...] = ()
    """Bits a byte, in equal stretches; large files are sampled."""


class EfiHeader(Base, frozen=True, kw_only=True):
    """Fields of an EFI image's header."""

    subsystem: Word16
    machine: Word16
    compression: Word16
    pe_offset: Word16


class RomImage(Base, frozen=True, kw_only=True):
    """One image of an expansion ROM."""

    offset_bytes: Count
    signature: Literal["55AA", "NV", "77BB"]
    structure: Literal["PCIR", "NPDS", "RGIS"] | None = None
    """Signature of its PCI data structure; None: it has none."""
    vendor_id: Word16 | None = None
    device_id: Word16 | None = None
    further_ids: tuple[Word16, ...] = ()
    """Its device list, where revision 3 has one."""
    class_code: Annotated[int, Meta(ge=0, le=0xFFFFFF)] | None = None
    structure_revision: Byte | None = None
    code_revision: Word16 | None = None
    code_type: Byte | None = None
    last: bool = False
    length_bytes: Count
    """By the PCI data structure, by NVIDIA's extension of it where there is one."""
    header_length_bytes: Count
    """By the size byte of the header."""
    extended: bool = False
    """The length is from NVIDIA's extension (NPDE)."""
    checksum: Byte | None = None
    """Sum of all bytes modulo 256; None: the image ends beyond the file."""
    checksum_right: bool | None = None
    """None where the code type carries none."""
    efi: EfiHeader | None = None


class Chain(Base, frozen=True, kw_only=True):
    """Images that follow one another up to the one marked as the last."""

    offset_bytes: Count
    end_bytes: Count
    images: tuple[RomImage, ...]
    complete: bool
    problems: tuple[Text, ...] = ()


class FirmwareString(Base, frozen=True, kw_only=True):
    """One text of the image, by the name its format gives it."""

    name: Text
    text: Text


class Straps(Base, frozen=True, kw_only=True):
    """The four words that say which straps firmware sets in place of the board."""

    select: tuple[Word32, Word32]
    """Set 0 and set 1. A bit of 1: as the board's resistors say."""
    secondary: tuple[Word32, Word32]
    """What counts where the bit is 0."""
    id_bits: Byte | None = None
    """Which low bits of the device id firmware sets; None: not published for it."""
    id_value: Byte | None = None


class Nvidia(Base, frozen=True, kw_only=True):
    """What an NVIDIA image holds."""

    bit_offset: Count | None = None
    bit_checksum_right: bool | None = None
    tokens: Text = ""
    """Ids of its BIT tokens, in order."""
    version: Text | None = None
    """ww.xx.yy.zz.nn, as drivers print it."""
    other_version: Text | None = None
    """A second version field that says something else."""
    date: Text | None = None
    subsystem: PciPair | None = None
    strings: tuple[FirmwareString, ...] = ()
    straps: Straps | None = None
    dcb_version: Text | None = None
    outputs: tuple[Text, ...] = ()
    """Display paths of its device control block, by kind."""
    connectors: tuple[Text, ...] = ()
    memory_types: tuple[Text, ...] = ()
    """What each memory strap selects."""
    memory_straps: Count | None = None


class MemoryModule(Base, frozen=True, kw_only=True):
    """One entry of AMD's VRAM table: a memory arrangement the firmware can run."""

    type: Text | None = None
    size_mib: Count | None = None
    part_number: Text | None = None
    device: Text | None = None
    """One memory device, as `256M x 32`."""
    channels: Count | None = None
    bus_bits: Count | None = None


class Atom(Base, frozen=True, kw_only=True):
    """What an AMD image holds."""

    header_offset: Count
    signature_right: bool
    header_revision: Text | None = None
    part_number: Text | None = None
    version: Text | None = None
    date: Text | None = None
    config_file: Text | None = None
    subsystem: PciPair | None = None
    strings: tuple[FirmwareString, ...] = ()
    object_revision: Text | None = None
    connectors: tuple[Text, ...] = ()
    vram_revision: Text | None = None
    memory: tuple[MemoryModule, ...] = ()


class ChipNamed(Base, frozen=True, kw_only=True):
    """Which chips a part of the image is for, and by which sources that is known."""

    by: Text
    chips: tuple[Text, ...]
    sources: tuple[Text, ...] = ()


class FirmwareContent(Base, frozen=True, kw_only=True):
    """Everything read out of one image."""

    read: Read
    surface: Surface
    preface: Text | None = None
    """Signature of what lies before the first expansion ROM header."""
    chains: tuple[Chain, ...] = ()
    pci_id: PciPair | None = None
    subsystem: PciPair | None = None
    version: Text | None = None
    built: Date | None = None
    nvidia: Nvidia | None = None
    atom: Atom | None = None
    names: tuple[ChipNamed, ...] = ()
    models: tuple[Text, ...] = ()
    """Models that its texts name and the table knows."""
    loose: tuple[Text, ...] = ()
    """Further legible texts, in no place a format gives them, that name either."""


class FirmwareFinding(Base, frozen=True, kw_only=True):
    """One comparison, worded as the findings of a record are."""

    rule: Text
    strength: Strength
    bearing: Bearing
    claim: Text = ""
    measured: Text = ""
    envelope: Text = ""
    """What a genuine image shows."""
    sentence: Text
    sources: tuple[Text, ...] = ()


class Fit(Base, frozen=True, kw_only=True):
    """One respect in which a candidate image is held against the card."""

    quantity: Text
    card: Text
    candidate: Text
    state: FitState
    risk: Text = ""


class FirmwareCard(Base, frozen=True, kw_only=True):
    """What a stored record says of the card."""

    label: Text
    pci_id: PciPair | None = None
    subsystem: PciPair | None = None
    firmware: Text | None = None
    chips: tuple[Text, ...] = ()
    """What it measured as, where that is all but certain."""
    images: tuple[Digest, ...] = ()
    """SHA-256 of the images that its driver or the PC held."""


class FirmwareReport(Base, frozen=True, kw_only=True):
    """One look at a card's firmware."""

    schema: Literal[1] = SCHEMA
    program: Text
    """Version of the program."""
    table_version: Text | None = None
    table_sha256: Text | None = None
    comparison: Comparison
    image: FirmwareContent
    """Of a read that most others agree with."""
    claim: Text | None = None
    card: FirmwareCard | None = None
    findings: tuple[FirmwareFinding, ...] = ()
    against: FirmwareContent | None = None
    fit: tuple[Fit, ...] = ()
    outcome: FirmwareOutcome
    sentence: Text
    cautions: tuple[Text, ...] = ()


_decoder = msgspec.json.Decoder(FirmwareReport)


def encode_report(report: FirmwareReport) -> bytes:
    """Return the report as indented JSON, read back once to prove that it can be."""
    data = inert(msgspec.json.format(msgspec.json.encode(report), indent=1)) + b"\n"
    decode_report(data)
    return data


def decode_report(data: bytes) -> FirmwareReport:
    """Return the report that `data` holds. Raises msgspec.ValidationError."""
    return _decoder.decode(data)


def report_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of a report."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **msgspec.json.schema(FirmwareReport),
    }
