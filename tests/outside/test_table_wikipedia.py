"""Bandwidth and fp32 that follow from a row, against the figures printed in Wikipedia.

The rows' clocks, widths and rates were entered one by one; the products are checked
here against figures that the same lists print apart from them.
"""

import re
from collections import defaultdict

import pytest

from reference import names

REASONS_OF_BANDWIDTH = {
    "GeForce GTX 460 gf104-7/675": "five versions in one line there, one figure missing"
}
REASONS_OF_FP32 = {}
"""Beside what rows say themselves, in `remarks`, `conflict` or `odd`."""


@pytest.fixture(scope="module")
def printed(extract):
    """By comparable name: all figures that the lists print for cards of that name."""
    found = defaultdict(lambda: (set(), set()))
    for line in extract("wikipedia_figures.csv"):
        name = re.sub(r"\(.*|[^\x00-\x7f]", "", line["name"])
        for place, column in enumerate(("bandwidth_gbps", "fp32_gflops")):
            figures = {float(one) for one in line[column].split()}
            found[names.key(name)][place].update(figures)
    return found


def test_bus_times_rate_is_the_printed_bandwidth(table, printed, agreement):
    broken, reasons, total = {}, {}, 0
    for row in _desktop(table):
        figures = printed.get(names.key(row.model), ((), ()))[0]
        if figures:
            total += 1
            mine = row.bandwidth / 1e9
            if not any(mine == pytest.approx(one, rel=0.015) for one in figures):
                reasons |= _told(row)
                broken[_called(row)] = f"{mine:.1f} of {sorted(figures)}"
    assert total > 400
    agreement(
        "bandwidth, Wikipedia", total, broken, reasons | REASONS_OF_BANDWIDTH, 0.9
    )


def test_lanes_times_clock_is_the_printed_fp32(table, printed, agreement):
    broken, reasons, total = {}, {}, 0
    for row in _desktop(table):
        figures = printed.get(names.key(row.model), ((), ()))[1]
        if figures:
            total += 1
            clocks = [row.shader_mhz or row.boost_mhz or row.base_mhz, row.base_mhz]
            mine = [
                row.shaders * 2 * clock / 1e3 * count
                for clock in clocks
                for count in (1, row.processors)  # some lists add a board's up
            ]
            if not any(a == pytest.approx(b, rel=0.02) for a in mine for b in figures):
                reasons |= _told(row)
                broken[_called(row)] = f"{mine[0]:.0f} of {sorted(figures)}"
    assert total > 400
    agreement("fp32, Wikipedia", total, broken, reasons | REASONS_OF_FP32, 0.9)


def _desktop(table):
    """Rows that name these lists as a source; partners' and later ones do not."""
    return [
        row
        for row in table.variants
        if row.form != "laptop"
        and any(source.startswith("wikipedia") for source in row.sources)
    ]


def _called(row):
    return f"{row.model} {row.id.split('/', 1)[1]}"


def _told(row):
    said = [*row.remarks, *(one.why for one in row.conflicts), row.odd]
    return {_called(row): said} if any(said) else {}
