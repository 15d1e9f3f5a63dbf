"""A comparison for a terminal: the verdict, why, then what is not as it was.

Text objects alone, as in `reports/terminal.py`: what a card says of itself styles
nothing. A narrow terminal gets each row as a few lines.
"""

from typing import TYPE_CHECKING, Final

from reports import uses
from reports.compared import wording
from reports.compared.shown import practice_notice, steps_of
from reports.compared.value import Compared, Row
from reports.summary import clean, when
from reports.terminal import Encodable, hung, safe_text

if TYPE_CHECKING:
    from rich.console import RenderableType

_COLUMNS: Final = 60
"""A terminal as wide as that shows columns."""
_WIDEST: Final = 110
_LEAST: Final = 20
_ALARM: Final = ("still wrong", "got worse")


def render_compared(
    view: Compared, width: int, page: str | None = None
) -> "RenderableType":
    """Return the comparison. A practice run says so in the first and the last line."""
    from rich.console import Group  # noqa: PLC0415 - start-up

    width = max(width, _LEAST)
    notice = practice_notice(view)
    notices = [safe_text(notice, "yellow bold")] if notice else []
    wrong, open_ = (steps_of(view, wrong=which) for which in (True, False))
    parts: list[RenderableType] = [
        *notices,
        safe_text(f"Before: {when(view.before.started)}", "dim"),
        safe_text(f"After: {when(view.after.started)}", "dim"),
        safe_text(""),
        safe_text(clean(view.sentence), "bold yellow" if wrong else "bold"),
        safe_text(_stability(view)),
        safe_text(""),
    ]
    for title, reasons in ((wording.WRONG, wrong), (wording.OPEN, open_)):
        if reasons:
            lines = [
                f"{said} {wording.NEXT}: {step}." if step else said
                for said, step in reasons
            ]
            parts += [safe_text(title), *hung(lines, width), safe_text("")]
    told = [one for one in view.rows if one.part != "findings"]
    moved = [one for one in told if one.became != "unchanged" or one.decides]
    parts += _rows(moved, width) if moved else [safe_text(wording.NOTHING)]
    if len(told) > len(moved):
        parts.append(safe_text(wording.unchanged(len(told) - len(moved))))
    parts.append(safe_text(""))
    parts += _uses(view, width)
    if view.remarks:
        parts += [safe_text(wording.REMARKS), *hung(map(clean, view.remarks), width)]
    parts += [safe_text(f"Page: {page}")] if page else []
    return Encodable(Group(*parts, *notices))


def _uses(view: Compared, width: int) -> "list[RenderableType]":
    """Return what it is good for, the titles alone: the page gives the reasons."""
    shown = uses.view_of(view.uses)
    if not view.uses or view.outcome != "honest now":
        return []
    lines = [
        f"{group.head}: {'; '.join(t for line in group.lines for t in line.titles)}."
        for group in shown.groups
    ]
    caution = safe_text(shown.caution, "dim")
    return [safe_text(shown.head), *hung(lines, width), caution, safe_text("")]


def _stability(view: Compared) -> str:
    said, step = clean(view.stability.sentence), clean(view.stability.step)
    return f"{said} {wording.NEXT}: {step}." if step else said


def _rows(rows: list[Row], width: int) -> "list[RenderableType]":
    if width < _COLUMNS:
        return [line for row in rows for line in _stacked(row)]
    from rich.table import Table  # noqa: PLC0415 - start-up

    table = Table(
        box=None,
        padding=(0, 1, 0, 0),
        width=min(width, _WIDEST),
        show_edge=False,
        pad_edge=False,
    )
    heads = ("", *wording.COLUMNS[:2], "")
    table.add_column("", width=1)
    for head, ratio in zip(heads, (4, 4, 4, 3), strict=True):
        table.add_column(head, ratio=ratio, header_style="dim", overflow="fold")
    for row in rows:
        style = _style(row)
        mark, became = wording.BECAME[row.became]
        table.add_row(
            safe_text(mark, style),
            safe_text(_title(row), "bold" if row.decides else ""),
            safe_text(_shown(row.before)),
            safe_text(_shown(row.after), "bold" if row.decides else ""),
            safe_text(became, style),
        )
    return [table]


def _stacked(row: Row) -> "list[RenderableType]":
    mark, became = wording.BECAME[row.became]
    return [
        safe_text(f"{mark} {_title(row)}: {became}", _style(row)),
        safe_text(f"{wording.COLUMNS[0]}: {_shown(row.before)}"),
        safe_text(f"{wording.COLUMNS[1]}: {_shown(row.after)}"),
    ]


def _title(row: Row) -> str:
    by = f" ({clean(row.by)})" if row.by else ""
    return f"{clean(row.title)}{by}"


def _style(row: Row) -> str:
    if row.became in _ALARM:
        return "yellow bold"
    return "cyan" if row.decides else ""


def _shown(text: str | None) -> str:
    return wording.ABSENT if text is None else clean(text) or wording.ABSENT
