"""One image, read whole: what is in it, and which chips its parts are for."""

from collections.abc import Iterator

from reference.firmware import atom, dates, image, naming, nvidia, rom
from reference.table import Table
from reports.firmware_report import Chain, ChipNamed, FirmwareContent, Read

BY_VERSION = "version"
BY_ID = "PCI id"
BY_TEXTS = "texts"
_VERSIONS = ("envytools-prefixes", "printed-cards")
"""Sources of versions and chips, side by side."""


def parse(read: Read, data: bytes, table: Table) -> FirmwareContent:
    """Return everything that can be told of an image. Never fails.

    Where a file holds several chains, the first with an x86 image of a display
    controller speaks, else the first.
    """
    chains = rom.chains(data)
    chain = _speaking(data, chains)
    green = red = None
    if chain is not None:
        vendor = chain.images[0].vendor_id
        if atom.is_atom(data, chain):
            red = atom.parse(data, chain)
        elif vendor == nvidia.VENDOR:
            green = nvidia.parse(data, chain)
    pci_id = _pci_id(chain)
    source = green or red
    texts = [one.text for one in source.strings] if source else []
    if red and red.config_file:
        texts.append(red.config_file)
    version = source.version if source else None
    return FirmwareContent(
        read=read,
        surface=image.surface(data),
        preface=rom.preface(data, chains),
        chains=chains,
        pci_id=pci_id,
        subsystem=source.subsystem if source else None,
        version=version,
        built=dates.iso(source.date) if source else None,
        nvidia=green,
        atom=red,
        names=tuple(_names(version if green else None, pci_id, texts, table)),
        models=naming.models_in(texts, table),
        loose=naming.loose_in(_own(data, chain), texts, table) if source else (),
    )


def _speaking(data: bytes, chains: tuple[Chain, ...]) -> Chain | None:
    display = 0x03
    for chain in chains:
        first = chain.images[0]
        if (first.class_code or 0) >> 16 == display or atom.is_atom(data, chain):
            return chain
    return chains[0] if chains else None


def _own(data: bytes, chain: Chain | None) -> bytes:
    """Return the first image of a chain."""
    if chain is None:
        return b""
    first = chain.images[0]
    return data[first.offset_bytes : first.offset_bytes + first.length_bytes]


def _pci_id(chain: Chain | None) -> str | None:
    if chain is None:
        return None
    first = chain.images[0]
    if first.vendor_id is None or first.device_id is None:
        return None
    return f"{first.vendor_id:04x}:{first.device_id:04x}"


def _names(
    version: str | None, pci_id: str | None, texts: list[str], table: Table
) -> Iterator[ChipNamed]:
    known = table.chips_by_firmware(version) if version else ()
    if known:
        yield ChipNamed(by=BY_VERSION, chips=known, sources=_prefixes(known, table))
    by_id = chips_of_id(pci_id, table)
    if by_id:
        yield ChipNamed(by=BY_ID, chips=by_id, sources=("PCI ID repository",))
    named = naming.chips_in(texts, table)
    if named:
        yield ChipNamed(by=BY_TEXTS, chips=named)


def _prefixes(chips: tuple[str, ...], table: Table) -> tuple[str, ...]:
    """Return what the chips of a version are known by."""
    cited = dict.fromkeys(
        source for chip in chips for source in table.marks[chip].source
    )
    titles = (table.sources[one] for one in cited if one in _VERSIONS)
    return tuple(one.title.partition(": ")[0] for one in titles)


def chips_of_id(pci_id: str | None, table: Table) -> tuple[str, ...]:
    """Return the chips that carry an id: by its rows, else by NVIDIA's id windows."""
    if pci_id is None:
        return ()
    rows = {row.chip for row in table.by_pci(pci_id)}
    window = table.chip_by_window(pci_id)
    return tuple(sorted(rows | ({window} if window else set())))


def chips_by(one: FirmwareContent, by: str) -> ChipNamed | None:
    """Return what one part of an image says of the chip, if it does."""
    return next((name for name in one.names if name.by == by), None)
