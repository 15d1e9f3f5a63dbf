"""Rows of two values beside each other: the few ways in which they are held together.

Nothing here knows what a value means; `memory.py`, `chip.py` and `rates.py` do.
"""

from collections.abc import Callable

from reports.compared.value import Became, Part, Row

Pair = tuple[str | None, str | None]
Counts = tuple[int | None, int | None]
Figures = tuple[float | None, float | None]


def by_presence(old: object, new: object) -> Became:
    """Return that only one record has it; else that it changed."""
    if old is None:
        return "only after"
    return "only before" if new is None else "changed"


def told(part: Part, title: str, texts: Pair) -> Row:
    """Return a row of two texts: the same, or changed."""
    old, new = texts
    became = by_presence(old, new)
    if old is not None and old == new:
        became = "unchanged"
    return Row(part=part, title=title, before=old, after=new, became=became)


def near(
    part: Part,
    title: str,
    values: Figures,
    shown: Callable[[float], str],
    *,
    band: float,
    note: str = "",
) -> Row:
    """Return a row of two figures that differ only beyond a share `band`.

    `note` is why they may differ: it is told only where they do.
    """
    old, new = values
    became = by_presence(old, new)
    if old and new:
        became = "unchanged" if abs(new / old - 1) <= band else "changed"
    return Row(
        part=part,
        title=title,
        before=None if old is None else shown(old),
        after=None if new is None else shown(new),
        became=became,
        note=note if became == "changed" else "",
    )


def counted(
    part: Part,
    title: str,
    counts: Counts,
    cured: Became,
    shown: Callable[[int], str] = "{:,}".format,
) -> Row:
    """Return a row of something of which there should be none.

    `cured` is what became of it where there was some and is none.
    """
    old, new = counts
    became: Became
    if old is None or new is None:
        became = "still wrong" if new else by_presence(old, new)
    elif new:
        became = "still wrong" if old else "got worse"
    else:
        became = cured if old else "unchanged"
    return Row(
        part=part,
        title=title,
        before=_none(old, shown),
        after=_none(new, shown),
        became=became,
        decides=became in ("still wrong", "got worse", "became honest"),
    )


def _none(count: int | None, shown: Callable[[int], str]) -> str | None:
    if count is None:
        return None
    return shown(count) if count else "none"
