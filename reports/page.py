"""A record as one self-contained HTML page, and the record back out of such a page.

Escaping is the template engine's; only pictures made in `reports.pictures`, which
escape for themselves, go in unescaped. No script, no request, no remote font.
"""

from hashlib import sha256

from reports import words
from reports.carried import carried, link_of
from reports.codec import encode
from reports.errors import RecordError
from reports.figures import tables_of
from reports.pictures.latency import describe, latency_curve
from reports.pictures.memory import block_map
from reports.pictures.rates import rate_axis, rate_bar, scale_of
from reports.pictures.sensors import bands_of, sensor_lines
from reports.pictures.soak import soak_lines
from reports.pictures.staircase import describe as describe_staircase
from reports.pictures.staircase import staircase
from reports.record import Record, Telemetry
from reports.summary import RateRow, clean, summarise
from reports.templating import style_of, template
from reports.text import named

_BOTH = " of one card alone; `cardassay compare` reads the page of a comparison"


def render_page(record: Record, data: bytes | None = None) -> str:
    """Return the page of a record.

    `data` are the record's bytes as they are stored; without them the record is
    encoded anew. They are embedded as they are: :func:`extract_record` returns them.
    Raises RecordError where the record does not fit the schema.
    """
    stored = encode(record) if data is None else data
    summary = summarise(record)
    return template("report.html.j2").render(
        summary=summary,
        words=words,
        label=clean(record.card.label),
        language="en",
        style=style_of("base.css", "report.css", "margin.css"),
        memory_map=block_map(summary.memory) if summary.memory else None,
        rates=_rates(summary.rates),
        sensors=_sensors(record.telemetry),
        soak_lines=soak_lines(record.soak, record.telemetry) if record.soak else (),
        staircase=staircase(record),
        staircase_words=describe_staircase(record),
        latency=latency_curve(record.structure) if record.structure else None,
        latency_words=describe(record.structure.levels) if record.structure else "",
        tables=tables_of(record),
        digest=sha256(stored).hexdigest(),
        link=link_of(stored),
        size=len(stored),
    )


def extract_record(page: str) -> bytes:
    """Return the bytes of the record that a page carries. Raises RecordError."""
    return carried(page.encode("utf-8", "replace"))


def record_bytes(data: bytes, name: str) -> bytes:
    """Return a file's bytes where they are a record, else those in the page they are.

    Raises RecordError with `name` where a page carries none.
    """
    if not data.lstrip().startswith(b"<"):
        return data
    try:
        return carried(data)
    except RecordError as error:
        more = _BOTH if b' id="before"' in data and b' id="after"' in data else ""
        raise RecordError(f"{named(name)}: {error}{more}") from None


def _rates(rows: tuple[RateRow, ...]) -> dict[str, object] | None:
    """Return the axis and, for each rate, its row and its bar."""
    if not rows:
        return None
    scale = scale_of(rows)
    if scale is None:
        return {"axis": None, "bars": [(row, None) for row in rows]}
    bars = [
        (row, rate_bar(row, scale, f"rate-{place}") if _drawable(row) else None)
        for place, row in enumerate(rows)
    ]
    return {"axis": rate_axis(scale), "bars": bars}


def _drawable(row: RateRow) -> bool:
    return bool(row.value) or row.genuine is not None


def _sensors(telemetry: Telemetry | None) -> dict[str, object] | None:
    """Return the sensor lines and the names of their phases, or why there are none."""
    if telemetry is None:
        return None
    return {
        "lines": sensor_lines(telemetry),
        "bands": bands_of(telemetry),
        "missing": clean(telemetry.missing) if telemetry.missing else None,
    }
