"""A record, or a map still filling, as renderables for a terminal.

Only text objects, never markup: what a card says of itself cannot style a line. Where
the terminal's encoding lacks a sign, a plain one of the same width stands for it.
"""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Final

from reports import seen, words
from reports.cells import SHOWN, Cell, condense
from reports.record import BlockState, Record
from reports.summary import MemoryMap, Row, Summary, clean, summarise

if TYPE_CHECKING:
    from rich.console import (
        Console,
        ConsoleOptions,
        RenderableType,
        RenderResult,
    )
    from rich.segment import Segment
    from rich.text import Text

SIGNS: Final[dict[Cell, str]] = {
    "proven": "█",
    "mirrored": "╱",  # noqa: RUF001 - drawn, not read
    "hollow": "□",
    "failing": "●",
    "scrambled": "╳",  # noqa: RUF001 - drawn, not read
    "spilled": "≈",
    "unreached": " ",
    None: "░",
}
"""One texture a state, as on the page; ░ is memory held but not judged yet."""
_WIDEST: Final = 110
"""Columns beyond which a ledger only gets harder to read."""
WAITING: Final = "held, not judged yet"
_PLAIN: Final = str.maketrans(
    "█╱□●╳≈░▏▕≠·…—–−×µ°’“”",  # noqa: RUF001 - the signs to be replaced
    '#/o*x~-||x-.---xuo\'""',
)
"""A sign of one column for each of ours that an encoding may lack."""
_ROUND: Final = 8
"""Rows of a map hold a multiple of this many blocks, so that addresses stay round."""
KEY_WIDTH: Final = 40
"""Columns that a key beside a map takes; narrower terminals show it below."""


class Encodable:
    """Something to print, with every sign that the console cannot encode replaced."""

    def __init__(self, inner: "RenderableType") -> None:
        self._inner = inner

    def __rich_console__(
        self, console: "Console", options: "ConsoleOptions"
    ) -> "RenderResult":
        from rich.segment import Segment  # noqa: PLC0415 - start-up

        for line in console.render_lines(self._inner, options, pad=False):
            for segment in _trimmed(line):
                text = encodable(segment.text, options.encoding)
                yield Segment(text, segment.style, segment.control)
            yield Segment.line()


def _trimmed(line: "list[Segment]") -> "list[Segment]":
    """Return a line without the blanks that only fill it up."""
    while line and not line[-1].text.strip() and not line[-1].control:
        line = line[:-1]
    if line and not line[-1].control:
        last = line[-1]
        line = [*line[:-1], last._replace(text=last.text.rstrip())]
    return line


def encodable(text: str, encoding: str) -> str:
    """Return `text` of the same width with nothing that `encoding` cannot hold."""
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return "".join(_replaced(sign, encoding) for sign in text)
    except LookupError:
        return encodable(text, "ascii")
    return text


def _replaced(sign: str, encoding: str) -> str:
    for choice in (sign, sign.translate(_PLAIN)):
        try:
            choice.encode(encoding)
        except UnicodeEncodeError:
            continue
        return choice
    return "?"


def render_map(states: Sequence[Cell], width: int, height: int = 8) -> "RenderableType":
    """Return the block map, at most `height` lines, with its key beside or below it.

    One sign a block; where there are more blocks than room, each sign stands for
    neighbours and shows the gravest of them.
    """
    beside = width >= 2 * KEY_WIDTH - 2
    room = width - KEY_WIDTH if beside else width - 2
    rows = _map_rows(states, max(room - 2, 1), max(height, 1))
    key = _key(states)
    return Encodable(_Beside(rows, key) if beside else _below(rows, key))


def render_result(
    record: Record, width: int, page: str | None = None
) -> "RenderableType":
    """Return the finished result: map, ledger, then the verdict and its reasons.

    `page` is where the page lies. A practice run says in the first and in the last
    line that no real card was tested.
    """
    from rich.console import Group  # noqa: PLC0415 - start-up

    summary = summarise(record)
    width = max(width, 20)
    notices = [
        _notice(text) for text in (summary.practice, summary.interrupted) if text
    ]
    last = [_notice(summary.practice)] if summary.practice else []
    parts: list[RenderableType] = [
        *notices,
        *_memory(summary.memory, width),
        *_ledger(summary.rows, width),
        *_soak(summary, width),
        *_bulleted(words.CUT_OFF, summary.cut_off, width),
        *_bulleted(words.EYE, seen.joined(summary.eye), width),
        *_bulleted(words.FIRMWARE, seen.joined(summary.firmware), width),
        *_bulleted(words.NOT_CHECKED, summary.unchecked, width),
        *_identity(summary, width),
        *_verdict(summary, width),
        *_bulleted(words.WOULD_SETTLE, summary.settle, width, spaced=False),
        *([safe_text(f"Page: {page}")] if page else []),
        *last,
    ]
    return Encodable(Group(*parts))


def render_verdict(record: Record, width: int) -> "RenderableType":
    """Return the verdict and its reasons alone, below a blank line."""
    from rich.console import Group  # noqa: PLC0415 - start-up

    return Encodable(Group(safe_text(""), *_verdict(summarise(record), max(width, 20))))


def sentence_of(record: Record) -> str:
    """Return the verdict in one line, clean: all that a quiet run prints."""
    return summarise(record).sentence


def safe_text(text: str, style: str = "") -> "Text":
    """Return outside text as one that carries no markup and no escapes."""
    from rich.text import Text  # noqa: PLC0415 - start-up

    return Text(clean(text), style=style)


def _map_rows(states: Sequence[Cell], room: int, height: int) -> list[str]:
    """Return the map's lines between edges, all of the same length."""
    cells = condense(states, room * height)
    columns = min(room, max(len(cells), 1))
    if columns < len(cells):
        columns -= columns % _ROUND if columns > _ROUND else 0
        cells = condense(states, columns * height)
    lines = [cells[at : at + columns] for at in range(0, len(cells), columns)] or [()]
    return [
        "▏" + "".join(SIGNS[cell] for cell in line).ljust(columns) + "▕"
        for line in lines
    ]


def _key(states: Sequence[Cell]) -> list[str]:
    """Return a line for each state on the map, with its share of the blocks."""
    total = len(states)
    lines = []
    for state in SHOWN:
        count = sum(cell == state for cell in states)
        if count:
            sign = SIGNS[state].strip() or "(blank)"
            lines.append(f"{sign} {_meaning(state)}, {count} of {total}")
    return lines


def _meaning(state: BlockState | None) -> str:
    return WAITING if state is None else words.STATE[state].split(":")[0]


class _Beside:
    """The map's lines with the key's to the right of them."""

    def __init__(self, rows: list[str], key: list[str]) -> None:
        self._rows = rows
        self._key = key

    def __rich_console__(
        self, console: "Console", options: "ConsoleOptions"
    ) -> "RenderResult":
        from rich.text import Text  # noqa: PLC0415 - start-up

        wide = len(self._rows[0])
        for place in range(max(len(self._rows), len(self._key))):
            row = self._rows[place] if place < len(self._rows) else " " * wide
            key = self._key[place] if place < len(self._key) else ""
            yield Text(f"{row}  {key}".rstrip(), no_wrap=True, overflow="ellipsis")


def _below(rows: list[str], key: list[str]) -> "RenderableType":
    from rich.console import Group  # noqa: PLC0415 - start-up
    from rich.text import Text  # noqa: PLC0415 - start-up

    return Group(
        *(Text(row, no_wrap=True, overflow="crop") for row in rows),
        Text("   ".join(key)),
    )


def _notice(text: str) -> "Text":
    return safe_text(text, "bold yellow")


def _memory(memory: MemoryMap | None, width: int) -> "list[RenderableType]":
    if memory is None:
        return []
    return [safe_text(memory.caption), render_map(memory.states, width), safe_text("")]


def _ledger(rows: tuple[Row, ...], width: int) -> "list[RenderableType]":
    """Return the ledger, deciding rows first; rows that only agree are just named."""
    if not rows:
        return []
    from rich.table import Table  # noqa: PLC0415 - start-up

    table = Table(
        box=None,
        width=min(width, _WIDEST),
        padding=(0, 2, 0, 0),
        pad_edge=False,
        show_edge=False,
    )
    table.add_column("", width=1)
    for head, ratio in zip(("", *words.COLUMNS), (3, 3, 4, 4), strict=True):
        table.add_column(head, ratio=ratio, header_style="dim", overflow="fold")
    for row in rows:
        if row.minor:
            continue
        style = "bold" if row.decides else ""
        mark = "yellow bold" if row.against else "cyan"
        table.add_row(
            safe_text(row.mark, mark),
            safe_text(row.title, style),
            safe_text(row.claimed),
            safe_text(row.found, mark if row.against else style),
            safe_text(row.genuine),
        )
    also = ", ".join(row.title for row in rows if row.minor)
    rest = [safe_text(f"{words.ALSO_AGREES}: {also}.")] if also else []
    return [table, *rest, safe_text("")]


def _soak(summary: Summary, width: int) -> "list[RenderableType]":
    soak = summary.soak
    if soak is None:
        return []
    stopped = (soak.stopped,) if soak.stopped else ()
    return _bulleted(words.SOAK, (soak.line, *stopped, *soak.wrong), width)


def _verdict(summary: Summary, width: int) -> "list[RenderableType]":
    against = summary.outcome in {"not as claimed", "faulty"}
    style = "bold yellow" if against else "bold"
    return [
        safe_text(summary.sentence, style),
        *hung(summary.reasons, width),
    ]


def _identity(summary: Summary, width: int) -> "list[RenderableType]":
    if not summary.identity:
        return []
    return _bulleted(words.IDENTITY, (summary.identity,), width)


def _bulleted(
    title: str, texts: tuple[str, ...], width: int, *, spaced: bool = True
) -> "list[RenderableType]":
    if not texts:
        return []
    after = [safe_text("")] if spaced else []
    return [safe_text(title), *hung(texts, width), *after]


def hung(texts: Iterable[str], width: int) -> "list[RenderableType]":
    """Return each text behind a dash, its further lines indented."""
    from rich.padding import Padding  # noqa: PLC0415 - start-up
    from rich.table import Table  # noqa: PLC0415 - start-up

    table = Table.grid(padding=(0, 1, 0, 0))
    table.add_column(width=1)
    table.add_column(overflow="fold", max_width=max(min(width - 4, 90), 8))
    for text in texts:
        table.add_row(safe_text("-"), safe_text(text))
    return [Padding(table, (0, 0, 0, 1))] if table.rows else []
