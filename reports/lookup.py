"""What the table knows of cards, as `cardassay lookup` shows it in a terminal.

Takes plain data, finds nothing and judges nothing. Imports nothing above reports.
"""

from collections import Counter
from collections.abc import Iterable
from typing import TYPE_CHECKING, Final

from msgspec.structs import replace

from reports import units, words
from reports.known import KnownCard, Lookup
from reports.terminal import Encodable
from reports.text import plain

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table
    from rich.text import Text

_INDENT: Final = 3
_LONGEST: Final = 4096
_NAMES: Final = words.RATE | {
    "memory_bytes": "Memory that drivers show",
    "compute_units": "Units that drivers count",
}


def render_lookup(answer: Lookup) -> "RenderableType":
    """Return the answer: all facts of a few cards, or a list of many."""
    from rich.console import Group  # noqa: PLC0415 - start-up

    parts: list[RenderableType] = []
    if answer.full:
        for same in _alike(answer.cards):
            heading = same[0].model + _form(same[0])
            parts += [_text(heading, "bold"), _indented(_facts(same)), _text("")]
    else:
        parts += [render_list(answer.cards), _text("")]
    if answer.envelopes:
        one = len(answer.cards) == 1
        which = "A genuine one shows" if one else "Genuine ones of these show"
        parts += [_text(which, "bold"), _indented(_envelopes(answer)), _text("")]
    for chip, cards in answer.siblings:
        parts += [_text(f"Also made of {chip}", "bold")]
        parts += [_indented(_text(", ".join(cards) or "nothing else here")), _text("")]
    parts += [_text(note) for note in answer.notes]
    if answer.sources:
        grid = _grid()
        for source in answer.sources:
            about = f"{source.title}. {source.publisher}, {source.date}"
            grid.add_row(_text(source.id), _text(about, "dim"))
        parts += [_text("Sources", "bold"), _indented(grid)]
    return Encodable(Group(*parts))


def render_list(cards: Iterable[KnownCard]) -> "RenderableType":
    """Return one line a variant."""
    from rich.table import Table  # noqa: PLC0415 - start-up

    table = Table(box=None, padding=(0, 2, 0, 0), header_style="dim", pad_edge=False)
    table.add_column("card", overflow="fold")
    for name in ("chip", "units", "memory", "GB/s", "GFLOP/s", "launch"):
        right = name in {"units", "GB/s", "GFLOP/s"}
        table.add_column(name, no_wrap=True, justify="right" if right else "left")
    for card in cards:
        table.add_row(
            _text(card.model + _form(card)),
            _text(card.chip),
            _text(str(card.units)),
            _text(f"{units.gib(card.memory_bytes)} {card.memory_type}"),
            _text(units.significant(card.bandwidth_gbps)),
            _text(f"{card.fp32_gflops:.0f}"),
            _text(card.launch or ""),
        )
    return Encodable(table)


def _alike(cards: Iterable[KnownCard]) -> Iterable[list[KnownCard]]:
    """Return cards in groups that differ in nothing but their memory."""
    groups: dict[KnownCard, list[KnownCard]] = {}
    for card in cards:
        rest = replace(
            card, memory_bytes=0, memory_type="", bus_width_bits=0, data_rate_mtps=0,
            bandwidth_gbps=0.0,
        )  # fmt: skip
        groups.setdefault(rest, []).append(card)
    return groups.values()


def _form(card: KnownCard) -> str:
    return "" if card.form == "desktop" else f" ({card.form})"


def _facts(same: list[KnownCard]) -> "Table":
    grid = _grid()
    for name, said in _rows(same[0], same):
        if said:
            grid.add_row(_text(name), _text(said))
    return grid


def _rows(card: KnownCard, same: list[KnownCard]) -> Iterable[tuple[str, str | None]]:
    of = f" of {card.chip_units}" if card.units != card.chip_units else ""
    target = card.compute_capability and (
        f"compute capability {card.compute_capability}"
    )
    yield (
        "Chip",
        ", ".join(
            part
            for part in (
                card.chip
                + (f" ({', '.join(card.chip_names)})" if card.chip_names else ""),
                f"{card.units}{of} {card.unit_name}s",
                f"{card.shaders} lanes",
                target or " or ".join(card.gfx_targets),
            )
            if part
        ),
    )
    if card.processors > 1:
        yield "Board", f"{card.processors} processors, each as follows"
    for variant in same:
        yield "Memory", _memory(variant)
    yield (
        "Clocks",
        ", ".join(
            f"{name} {clock} MHz"
            for name, clock in (
                ("base", card.base_mhz),
                ("boost", card.boost_mhz),
                ("shader", card.shader_mhz),
            )
            if clock
        ),
    )
    yield (
        "Peak",
        (
            f"{units.quantity(card.fp32_gflops * 1e9, 'FLOP/s')} fp32 at the highest "
            "of these clocks"
        ),
    )
    yield (
        "Caches",
        ", ".join(
            f"{name} {units.gib(size)}"
            for name, size in (
                ("L2", (card.l2_kib or 0) * 2**10),
                ("last level", (card.llc_mib or 0) * 2**20),
            )
            if size
        ),
    )
    ids = ", ".join(card.pci_ids)
    if card.pci_revisions:
        ids += f", revision {', '.join(card.pci_revisions)}"
    if card.pci_subsystems:
        ids += f", subsystem {', '.join(card.pci_subsystems)}"
    yield "PCI", ids
    yield "Link", card.pcie and "PCIe {}.0 {}".format(*card.pcie.split(" "))
    yield (
        "Power",
        ", ".join(
            part
            for part in (
                f"{card.power_w} W" if card.power_w else "",
                _counted(card.power_plugs, "no connector"),
            )
            if part
        ),
    )
    yield "Outputs", _counted(card.outputs, "none")
    last = f"last made {card.last_made}" if card.last_made else None
    yield "Launched", ", ".join(part for part in (card.launch, last) if part)
    yield "Also called", ", ".join(card.aliases)
    for remark in card.remarks:
        yield "Remark", remark
    for one in card.conflicts:
        said = ", ".join(one.says)
        yield "Disputed", f"{one.field}: {said}; used is {one.used}: {one.why}"
    yield "Odd", card.odd
    yield "Not judged", ", ".join(card.not_judged)
    yield "Source", card.source
    yield "By memory", ", ".join(card.from_memory)


def _memory(card: KnownCard) -> str:
    return (
        f"{units.gib(card.memory_bytes)} {card.memory_type}, {card.bus_width_bits} bit "
        f"x {card.data_rate_mtps} MT/s / 8 = "
        f"{units.quantity(card.bandwidth_gbps * 1e9, 'B/s')}"
        + (", can keep check bits" if card.ecc else "")
    )


def _counted(items: tuple[str, ...] | None, nothing: str) -> str:
    if items is None:
        return ""
    counts = Counter(items)
    return (
        ", ".join(f"{n} x {one}" if n > 1 else one for one, n in counts.items())
        or nothing
    )


def _envelopes(answer: Lookup) -> "Table":
    grid = _grid()
    for one in answer.envelopes:
        name = _NAMES.get(one.quantity, one.quantity)
        shown = units.span(one.low, one.high, one.unit)
        row = [_text(name), _text(shown)]
        if len(answer.cards) == 1:
            row.append(_text(one.basis, "dim"))
        grid.add_row(*row)
    return grid


def _grid() -> "Table":
    from rich.table import Table  # noqa: PLC0415 - start-up

    grid = Table.grid(padding=(0, 2, 0, 0))
    grid.add_column(no_wrap=True)
    grid.add_column(overflow="fold")
    return grid


def _indented(inner: "RenderableType") -> "RenderableType":
    from rich.padding import Padding  # noqa: PLC0415 - start-up

    return Padding(inner, (0, 0, 0, _INDENT), expand=False)


def _text(said: str, style: str = "") -> "Text":
    """Return text made harmless: a file of rows may come from anywhere."""
    from rich.text import Text  # noqa: PLC0415 - start-up

    return Text(plain(said, _LONGEST), style=style)
