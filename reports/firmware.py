"""A look at firmware, as `cardassay firmware` shows it in a terminal.

Takes a report, judges nothing. Only text objects, never markup: what an image says
cannot style a line.
"""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Final

from reports import words
from reports.firmware_report import (
    Atom,
    Comparison,
    Difference,
    FirmwareContent,
    FirmwareFinding,
    FirmwareReport,
    Fit,
    FitState,
    MapState,
    MemoryModule,
    Nvidia,
    RomImage,
)
from reports.terminal import Encodable, safe_text
from reports.units import gib

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table

SIGNS: Final[dict[MapState, str]] = {
    "same": "█",
    "few": "●",
    "many": "╳",  # noqa: RUF001 - drawn, not read
    "blank": "□",
    "beyond": " ",
}
_MEANING: Final[dict[MapState, str]] = {
    "same": "the same",
    "few": "a few bytes differ",
    "many": "many bytes differ",
    "blank": "nothing but FF or 00",
    "beyond": "only one of the two goes so far",
}
_STATE: Final[dict[FitState, str]] = {
    "same": "=",
    "differs": "≠",
    "blocks": "×",  # noqa: RUF001 - drawn, not read
    "unknown": "?",
}
_CODE: Final = {0: "x86", 1: "Open Firmware", 2: "PA-RISC", 3: "EFI", 0xE0: "NVIDIA"}
_MACHINE: Final = {0x014C: "IA-32", 0x0EBC: "byte code", 0x8664: "x64", 0xAA64: "Arm"}
"""Machine types of EFI images (UEFI specification, PE/COFF)."""
_ENTROPY: Final = "_.-:=+*#%"
_FULL: Final = 8.0
_COLUMNS: Final = 64
_WIDEST: Final = 110
_DIGITS: Final = 16


def render_firmware(report: FirmwareReport, width: int) -> "RenderableType":
    """Return the whole report; what was concluded comes last."""
    from rich.console import Group  # noqa: PLC0415 - start-up

    width = max(width, 20)
    against = report.outcome in {"not as claimed", "faulty", "does not fit"}
    parts: list[RenderableType] = [
        *_reads(report.comparison, width),
        *_content("The image", report.image, width),
    ]
    if report.against is not None:
        parts += _content("The candidate", report.against, width)
        parts += _fit(report.fit, width)
    parts += _findings(report.findings, width)
    if report.against is not None or report.comparison.differences:
        parts += _listed("Before anyone holds a reader to it", report.cautions, width)
    parts.append(safe_text(report.sentence, "bold yellow" if against else "bold"))
    return Encodable(Group(*parts))


def _reads(comparison: Comparison, width: int) -> "list[RenderableType]":
    table = _columns(("read", "size", "SHA-256"), width)
    for place, read in enumerate(comparison.reads):
        mark = "=" if place in comparison.agreeing else "≠"
        named = f"{mark} {read.name}" if len(comparison.reads) > 1 else read.name
        table.add_row(
            safe_text(named),
            safe_text(gib(read.size_bytes)),
            safe_text(read.sha256[:_DIGITS] + "…", "dim"),
        )
    parts: list[RenderableType] = [table, safe_text("")]
    for one in comparison.differences:
        parts += _difference(one, comparison, width)
    return parts


def _difference(
    one: Difference, comparison: Comparison, width: int
) -> "list[RenderableType]":
    name, other = (comparison.reads[at].name for at in (one.read, one.against))
    columns = max(min(_COLUMNS, width - 4), 8)
    signs = "".join(SIGNS[state] for state in one.map)
    rows = [signs[at : at + columns] for at in range(0, len(signs), columns)]
    key = "   ".join(
        f"{SIGNS[state].strip() or '(blank)'} {meaning}"
        for state, meaning in _MEANING.items()
        if state in one.map
    )
    span = (
        ""
        if one.first_byte is None
        else f", at {one.first_byte:#x}"
        if one.first_byte == one.last_byte
        else f", from {one.first_byte:#x} to {one.last_byte or 0:#x}"
    )
    flips = (
        f"{_counted(one.risen_bits, 'bit')} 0 to 1, "
        f"{_counted(one.fallen_bits, 'bit')} 1 to 0"
    )
    differ = "differs" if one.differing_bytes == 1 else "differ"
    count = f"{_counted(one.differing_bytes, 'byte')} {differ}{span}; {flips}"
    return [
        safe_text(f"{name} against {other}", "bold"),
        *(_raw(f"▏{row.ljust(min(columns, len(signs)))}▕") for row in rows),
        safe_text(f"{key}; {gib(comparison.cell_bytes)} a sign", "dim"),
        *([safe_text(count, "dim")] if one.differing_bytes else []),
        safe_text(one.sentence),
        safe_text(""),
    ]


def _counted(number: int, word: str) -> str:
    return f"{number} {word}{'s' * (number != 1)}"


def _raw(text: str) -> "RenderableType":
    """Return a drawn line as it is: blanks count."""
    from rich.text import Text  # noqa: PLC0415 - start-up

    return Text(text, no_wrap=True, overflow="crop")


def _content(title: str, image: FirmwareContent, width: int) -> "list[RenderableType]":
    grid = _grid()
    for name, said in _facts(image):
        if said:
            grid.add_row(safe_text(name), safe_text(said))
    return [
        safe_text(title, "bold"),
        *_chains(image, width),
        grid,
        safe_text(""),
    ]


def _chains(image: FirmwareContent, width: int) -> "list[RenderableType]":
    if not image.chains:
        return []
    heads = ("at", "code", "device", "length", "sum", "")
    table = _columns(heads, width)
    for chain in image.chains:
        for one in chain.images:
            table.add_row(*(safe_text(cell) for cell in _row(one)))
    problems = [safe_text(p) for chain in image.chains for p in chain.problems]
    return [table, *problems, safe_text("")]


def _row(one: RomImage) -> tuple[str, ...]:
    machine = one.efi and _MACHINE.get(one.efi.machine, f"{one.efi.machine:#x}")
    code = (
        "none stated"
        if one.code_type is None
        else _CODE.get(one.code_type, f"{one.code_type:#04x}")
    )
    device = (
        "" if one.device_id is None else f"{one.vendor_id or 0:04x}:{one.device_id:04x}"
    )
    return (
        f"{one.offset_bytes:#x}",
        f"{code} {machine}" if machine else code,
        device,
        gib(one.length_bytes),
        _sum(one),
        "last" if one.last else "",
    )


def _sum(one: RomImage) -> str:
    if one.checksum is None:
        return "cut off"
    if one.checksum_right is None:
        return "none needed"
    return "right" if one.checksum_right else f"wrong ({one.checksum:02X})"


def _facts(image: FirmwareContent) -> Iterable[tuple[str, str | None]]:
    size = image.surface
    yield "Size", f"{gib(size.size_bytes)} ({size.size_bytes} bytes)"
    if image.preface:
        at = image.chains[0].offset_bytes
        yield "Before it", f"{gib(at)} that begin with {image.preface}"
    yield "PCI id", image.pci_id
    yield "Subsystem", image.subsystem
    yield "Version", image.version
    yield "Built", image.built
    for one in image.names:
        yield f"Chip by {one.by}", " or ".join(one.chips)
    yield "Models named", ", ".join(image.models)
    for text in image.loose:
        yield "Also legible", text
    if image.nvidia:
        yield from _nvidia(image.nvidia)
    if image.atom:
        yield from _atom(image.atom)
    yield "Entropy", _entropy(size.entropy)


def _nvidia(one: Nvidia) -> Iterable[tuple[str, str | None]]:
    for text in one.strings:
        yield _capital(text.name), text.text
    yield "Information table", one.tokens and f"tokens {' '.join(one.tokens)}"
    yield "Outputs", ", ".join(one.outputs)
    yield "Sockets", ", ".join(one.connectors)
    yield "Memory", ", ".join(one.memory_types)
    if one.straps:
        words_ = (*one.straps.select, *one.straps.secondary)
        yield "Strap words", " ".join(f"{word:08X}" for word in words_)


def _atom(one: Atom) -> Iterable[tuple[str, str | None]]:
    for text in one.strings:
        yield _capital(text.name), text.text
    yield "Part number", None if one.strings else one.part_number
    yield "Configuration", one.config_file
    yield "Sockets", ", ".join(one.connectors)
    for module in one.memory:
        yield "Memory", _module(module)


def _module(one: MemoryModule) -> str:
    parts = (
        one.part_number,
        one.type,
        f"{one.size_mib} MiB" if one.size_mib else None,
        one.device,
        f"{one.bus_bits} bit" if one.bus_bits else None,
    )
    return ", ".join(part for part in parts if part)


def _entropy(values: tuple[float, ...]) -> str:
    """Return a sign for every two stretches: _ for one value, % for noise."""
    top = len(_ENTROPY) - 1
    pairs = [max(values[at : at + 2]) for at in range(0, len(values), 2)]
    drawn = "".join(_ENTROPY[round(value / _FULL * top)] for value in pairs)
    return f"▏{drawn}▕ _ one value, % noise"


def _fit(lines: tuple[Fit, ...], width: int) -> "list[RenderableType]":
    table = _columns(("", "", "card", "candidate", "risk"), width)
    for one in lines:
        mark = "yellow bold" if one.state == "blocks" else "cyan"
        table.add_row(
            safe_text(_STATE[one.state], mark),
            safe_text(one.quantity, "bold" if one.state == "blocks" else ""),
            safe_text(one.card),
            safe_text(one.candidate),
            safe_text(one.risk),
        )
    title = safe_text("The candidate against this card", "bold")
    key = safe_text("= same  ≠ differs  ? not known  × does not fit", "dim")  # noqa: RUF001
    return [title, table, key, safe_text("")]


def _findings(found: tuple[FirmwareFinding, ...], width: int) -> "list[RenderableType]":
    lines = []
    for one in found:
        mark, bearing = words.BEARING[one.bearing]
        source = f" ({'; '.join(one.sources)})" if one.sources else ""
        strength = words.STRENGTH[one.strength]
        lines.append(f"{mark} {strength}, {bearing}: {one.sentence}{source}")
    return _listed("What it says", tuple(lines), width)


def _listed(title: str, texts: tuple[str, ...], width: int) -> "list[RenderableType]":
    from rich.table import Table  # noqa: PLC0415 - start-up

    table = Table.grid(padding=(0, 1, 0, 0))
    table.add_column(width=1)
    table.add_column(overflow="fold", max_width=max(min(width - 2, 90), 8))
    for text in texts:
        table.add_row(safe_text("-"), safe_text(text))
    return [safe_text(title, "bold"), table, safe_text("")] if texts else []


def _columns(heads: tuple[str, ...], width: int) -> "Table":
    from rich.table import Table  # noqa: PLC0415 - start-up

    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
    table.width = None if width > _WIDEST else min(width, _WIDEST)
    for head in heads:
        table.add_column(head, overflow="fold")
    return table


def _grid() -> "Table":
    from rich.table import Table  # noqa: PLC0415 - start-up

    grid = Table.grid(padding=(0, 2, 0, 0))
    grid.add_column(no_wrap=True)
    grid.add_column(overflow="fold")
    return grid


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
