"""A record as one self-contained HTML page, and the record back out of such a page.

Escaping is the template engine's; only pictures made in `reports.pictures`, which
escape for themselves, go in unescaped. No script, no request, no remote font.
"""

import base64
import binascii
from functools import cache
from hashlib import sha256
from importlib import resources
from typing import TYPE_CHECKING, Final

from reports import words
from reports.codec import encode
from reports.errors import RecordError
from reports.figures import tables_of
from reports.pictures.latency import describe, latency_curve
from reports.pictures.memory import block_map
from reports.pictures.rates import rate_axis, rate_bar, scale_of
from reports.pictures.sensors import bands_of, sensor_lines
from reports.pictures.soak import soak_lines
from reports.record import Record, Telemetry
from reports.summary import RateRow, clean, summarise
from reports.text import named

if TYPE_CHECKING:
    from jinja2 import Template

_DATA: Final = "data:application/json;base64,"
_LINK: Final = f'href="{_DATA}'.encode("ascii")
_TAG: Final = 1024
"""Bytes in which the rest of the link's tag stands."""
_TEMPLATES: Final = resources.files("reports") / "templates"


def render_page(record: Record, data: bytes | None = None) -> str:
    """Return the page of a record.

    `data` are the record's bytes as they are stored; without them the record is
    encoded anew. They are embedded as they are: :func:`extract_record` returns them.
    Raises RecordError where the record does not fit the schema.
    """
    stored = encode(record) if data is None else data
    summary = summarise(record)
    return _template().render(
        summary=summary,
        words=words,
        label=clean(record.card.label),
        css=(_TEMPLATES / "report.css").read_text("utf-8"),
        memory_map=block_map(summary.memory) if summary.memory else None,
        rates=_rates(summary.rates),
        sensors=_sensors(record.telemetry),
        soak_lines=soak_lines(record.soak, record.telemetry) if record.soak else (),
        latency=latency_curve(record.structure) if record.structure else None,
        latency_words=describe(record.structure.levels) if record.structure else "",
        tables=tables_of(record),
        digest=sha256(stored).hexdigest(),
        link=_DATA + base64.b64encode(stored).decode("ascii"),
        size=len(stored),
    )


def extract_record(page: str) -> bytes:
    """Return the bytes of the record that a page carries. Raises RecordError."""
    return _carried(page.encode("utf-8", "replace"))


def record_bytes(data: bytes, name: str) -> bytes:
    """Return a file's bytes where they are a record, else those in the page they are.

    Raises RecordError with `name` where a page carries none.
    """
    if not data.lstrip().startswith(b"<"):
        return data
    try:
        return _carried(data)
    except RecordError as error:
        raise RecordError(f"{named(name)}: {error}") from None


def _carried(page: bytes) -> bytes:
    """Return the record behind the one link that our template writes.

    Looks for that link alone: to read a stranger's whole page as HTML may take the
    square of its length.
    """
    found: list[bytes] = []
    at = page.find(_LINK)
    while at >= 0:
        start = page.rfind(b"<", max(0, at - _TAG), at)
        end = page.find(b'"', at + len(_LINK))
        close = page.find(b">", end, end + _TAG)
        if start < 0 or end < 0 or close < 0:
            break
        tag = page[start:at] + page[end + 1 : close]
        if tag.startswith(b"<a ") and b' id="record"' in tag:
            found.append(page[at + len(_LINK) : end])
        at = page.find(_LINK, close)
    if not found:
        raise RecordError("the page carries no record")
    if len(found) > 1:
        raise RecordError("the page carries more than one record")
    try:
        return base64.b64decode(found[0], validate=True)
    except (binascii.Error, ValueError):
        raise RecordError("the record in the page is damaged") from None


@cache
def _template() -> "Template":
    from jinja2 import (  # noqa: PLC0415 - start-up: only pages need it
        Environment,
        FunctionLoader,
        StrictUndefined,
    )

    environment = Environment(
        loader=FunctionLoader(lambda name: (_TEMPLATES / name).read_text("utf-8")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    return environment.get_template("report.html.j2")


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
