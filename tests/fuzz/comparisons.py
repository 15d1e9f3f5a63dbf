"""A record of a stranger's beside a sound one: compared, shown, and its page read."""

import io
import re

import msgspec
from fuzz import seeds
from rich.console import Console

from reference.repaired.compare import compare
from reference.table import Table
from reports import codec
from reports.compared.page import is_comparison, records_of, render_compared_page
from reports.compared.terminal import render_compared
from reports.compared.value import Compared, encode_compared
from reports.errors import RecordError

_CONTROL = re.compile(
    r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069]"
)


def beside(data: bytes, table: Table) -> None:
    """Compare both ways round; whatever it says can be written, shown and carried."""
    try:
        found = codec.decode(data)
    except RecordError:
        return
    stored = seeds.slim_records()[0]
    sound = codec.decode(stored)
    for pair in (((sound, stored), (found, data)), ((found, data), (sound, stored))):
        view = compare(pair[0][0], pair[1][0], table)
        made = encode_compared(view)
        assert msgspec.json.decode(made, type=Compared) == view
        assert not _CONTROL.search(made.decode())
        file = io.StringIO()
        Console(file=file, width=80, color_system=None, markup=False).print(
            render_compared(view, 80)
        )
        assert not _CONTROL.search(file.getvalue())
        page = render_compared_page(view, *pair)
        assert not _CONTROL.search(page)
        assert records_of(page.encode(), "page") == (pair[0][1], pair[1][1])


def page(data: bytes) -> None:
    """Read both records out of what may be a comparison's page."""
    if is_comparison(data):
        for one in records_of(data, "page"):
            codec.decode(one)
