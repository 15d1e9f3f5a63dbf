"""A comparison as one self-contained page for the customer, and both records out of it.

Escaping is the template engine's; only pictures that escape for themselves go in as
they are. The page carries both records: `before` and `after`.
"""

from dataclasses import dataclass
from hashlib import sha256
from typing import Final

from reports import uses
from reports.carried import carried, link_of
from reports.compared import wording
from reports.compared.shown import practice_notice, steps_of
from reports.compared.value import Compared, Part, Row
from reports.errors import RecordError
from reports.figures import Table, tables_of
from reports.pictures.memory import block_map
from reports.record import Capacity, Record
from reports.summary import MemoryMap, clean, memory_of, when
from reports.templating import style_of, template
from reports.text import named

BEFORE: Final = "before"
AFTER: Final = "after"
_PARTS: Final[tuple[Part, ...]] = (
    "claims", "memory", "lasting", "chip", "rates", "further",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """A row of the comparison, clean and in words."""

    title: str
    by: str
    before: str
    after: str
    mark: str
    became: str
    note: str
    decides: bool
    against: bool
    minor: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Stored:
    """A record as the page carries it."""

    ident: str
    tested: str
    link: str
    size: int
    digest: str


def render_compared_page(
    view: Compared, before: tuple[Record, bytes], after: tuple[Record, bytes]
) -> str:
    """Return the page. Each record comes with its stored bytes, which are carried."""
    rows = [one for one in view.rows if one.part != "findings"]
    moved = [one for one in rows if one.became != "unchanged" or one.decides]
    maps = _maps(before[0].capacity, after[0].capacity)
    return template("compared.html.j2").render(
        language="en",
        style=style_of(
            "base.css", "report.css", "uses.css", "compare.css", "margin.css"
        ),
        view=view,
        wording=wording,
        words={part: wording.PART[part] for part in _PARTS},
        label=clean(view.after.label),
        practice=practice_notice(view),
        tone=_tone(view),
        mark=_mark(view),
        sentence=clean(view.sentence),
        stability=clean(view.stability.sentence),
        stability_step=clean(view.stability.step),
        steady=wording.STEADY[view.stability.state],
        wrong=steps_of(view, wrong=True),
        open=steps_of(view, wrong=False),
        deciding=tuple(_line(one) for one in moved if one.decides),
        others=tuple(_line(one) for one in moved if not one.decides),
        same=tuple(
            (wording.PART[part], _lines(rows, part))
            for part in _PARTS
            if _lines(rows, part)
        ),
        findings=tuple(_line(one) for one in view.rows if one.part == "findings"),
        same_count=len(rows) - len(moved),
        uses=uses.view_of(view.uses) if view.uses else None,
        remarks=tuple(map(clean, view.remarks)),
        unchecked=_unchecked(view),
        maps=maps,
        stored=(
            _stored(BEFORE, before),
            _stored(AFTER, after),
        ),
        tables=_tables(before[0], after[0]),
        facts=_facts(view),
    )


def is_comparison(data: bytes) -> bool:
    """Whether a file is a page that carries two records; it may be damaged."""
    mark = f' id="{BEFORE}" download="{BEFORE}.json" '.encode("ascii")
    return data.lstrip().startswith(b"<") and mark in data


def records_of(page: bytes, name: str) -> tuple[bytes, bytes]:
    """Return both records that a comparison's page carries. Raises RecordError."""
    try:
        return (
            carried(page, BEFORE, "record from before"),
            carried(page, AFTER, "record from after"),
        )
    except RecordError as error:
        raise RecordError(f"{named(name)}: {error}") from None


def _tone(view: Compared) -> str:
    if view.outcome == "honest now":
        return "for"
    return "against" if view.settled else "open"


def _mark(view: Compared) -> str:
    if view.outcome == "honest now":
        return "="
    return "≠" if view.settled else "?"


def _lines(rows: list[Row], part: Part) -> tuple[Line, ...]:
    return tuple(
        _line(one)
        for one in rows
        if one.part == part and one.became == "unchanged" and not one.decides
    )


def _line(row: Row) -> Line:
    mark, became = wording.BECAME[row.became]
    return Line(
        title=clean(row.title),
        by=clean(row.by),
        before=_shown(row.before),
        after=_shown(row.after),
        mark=mark,
        became=became,
        note=clean(row.note),
        decides=row.decides,
        against=row.became in ("still wrong", "got worse"),
        minor=not row.decides and row.became not in ("better", "got worse"),
    )


def _shown(text: str | None) -> str:
    return wording.ABSENT if text is None else clean(text) or wording.ABSENT


def _unchecked(view: Compared) -> tuple[str, ...]:
    """Return what the record after the repair leaves unchecked."""
    verdict = view.after.own_verdict
    told = verdict.unchecked if verdict else ()
    listing = "The listing:"
    return tuple(clean(one) for one in told if not one.startswith(listing))


def _maps(
    before: Capacity | None, after: Capacity | None
) -> tuple[tuple[str, str, MemoryMap], ...]:
    """Return title, picture and key of each map; the first one has the textures."""
    found: list[tuple[str, str, MemoryMap]] = []
    for title, ident, capacity in (
        ("Before", "map-before", before),
        ("After", "map-after", after),
    ):
        if capacity is not None:
            memory = memory_of(capacity)
            picture = block_map(memory, ident, textured=not found)
            found.append((title, picture, memory))
    return tuple(found)


def _stored(ident: str, record: tuple[Record, bytes]) -> Stored:
    data = record[1]
    return Stored(
        ident=ident,
        tested=when(record[0].started),
        link=link_of(data),
        size=len(data),
        digest=sha256(data).hexdigest(),
    )


def _facts(view: Compared) -> tuple[tuple[str, str], ...]:
    facts = [
        ("Before", when(view.before.started)),
        ("Depth before", view.before.depth),
        ("After", when(view.after.started)),
        ("Depth after", view.after.depth),
        ("Sold as, before", view.before.sold_as),
        ("Reported as, before", view.before.reported_as),
        ("Reports now", view.after.reported_as),
        ("The two records", wording.MATCH[view.same_card]),
        ("Table of genuine cards", _table(view)),
    ]
    return tuple((term, clean(text)) for term, text in facts if text)


def _table(view: Compared) -> str:
    added = f", {wording.ADDED}" if view.added_rows else ""
    return f"{view.table_version}{added}"


def _tables(
    before: Record, after: Record
) -> tuple[tuple[str, Table | None, Table | None], ...]:
    """Return the raw tables of both records, those of one title beside each other."""
    old = {table.title: table for table in tables_of(before)}
    new = {table.title: table for table in tables_of(after)}
    return tuple(
        (title, old.get(title), new.get(title)) for title in dict.fromkeys((*old, *new))
    )
