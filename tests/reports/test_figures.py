from xml.etree import ElementTree as ET

import samples
from hypothesis import given
from markupsafe import escape
from msgspec.structs import replace
from record_strategies import records

from reports.figures import Table, tables_of
from reports.record import CacheLevel, Latency, Sample, Stair, Structure, Telemetry
from reports.text import plain


def table(record, title):
    return next(one for one in tables_of(record) if one.title == title)


def test_layers_stand_side_by_side():
    found = table(samples.mirrored_1070(), "What each layer says")
    assert found.heads == ("", "Listing", "OpenCL", "PCI")
    assert ("Memory, bytes", "8,589,934,592", "8,589,934,592", "—") in found.rows


def test_blocks_tell_where_their_data_came_from():
    found = table(samples.mirrored_1070(), "Blocks of memory")
    assert found.count == "31 rows"
    row = dict(zip(found.heads, found.rows[0], strict=True))
    assert row["State"] == "mirrored"
    assert row["Mirror"] == "+2,147,483,648"


def test_flips_are_told_in_hexadecimal():
    found = table(samples.failing(), "Blocks of memory")
    row = dict(zip(found.heads, found.rows[11], strict=True))
    assert row["Flips"] == "00000000 00004000 00000000 00000000"


def test_passes_tell_their_rate():
    found = table(samples.genuine_h100(), "Passes over the memory")
    assert [dict(zip(found.heads, row, strict=True))["Rate"] for row in found.rows] == [
        "3200 GB/s",
        "2650 GB/s",
        "3080 GB/s",
    ]


def test_the_chip_s_structure_and_the_link_are_among_the_raw_figures():
    built = Structure(
        units=2,
        warp_width=32,
        stairs=(Stair(groups=2, seconds=210.04e-6), Stair(groups=3, seconds=415e-6)),
        latencies=(Latency(footprint_bytes=4096, hop_ns=21.5),),
        levels=(CacheLevel(reaches_bytes=65536, hop_ns=21.5), CacheLevel(hop_ns=300)),
        missing=("clock: a longer chain took no longer",),
    )
    sample = Sample(at_seconds=1.0, phase="fp32", link_generation=3, link_width=16)
    record = replace(
        samples.minimal(), structure=built, telemetry=Telemetry(samples=(sample,))
    )
    chip = table(record, "How the chip is built").rows
    assert ("units", "2") in chip
    assert ("missing", "clock: a longer chain took no longer") in chip
    assert table(record, "Staircase of units").rows == (("2", "210.04"), ("3", "415"))
    assert table(record, "Latency of memory").rows == (("4,096", "21.5"),)
    assert table(record, "Levels of memory").rows[1] == ("—", "—", "—", "300")
    found = table(record, "Sensor readings")
    row = dict(zip(found.heads, found.rows[0], strict=True))
    assert (row["Link, generation"], row["Link, lanes"]) == ("3", "16")


def test_an_empty_table_is_not_shown():
    assert [one.title for one in tables_of(samples.minimal())] == [
        "Card, PC and program"
    ]


@given(records())
def test_any_record_has_tables_of_even_rows(record):
    for one in tables_of(record):
        for row in one.rows:
            assert len(row) == len(one.heads)
            assert all(cell == plain(cell, 100_000) for cell in row)


def test_rows_become_html_that_says_what_they_say():
    rows = (("<b>", "1", "\"q\" & 'p'"), ("alone",), ("<b>", "</td>", ""))
    body = Table(title="", heads=(), rows=rows).body
    read = ET.fromstring(f"<t>{body}</t>")
    assert [tuple(cell.text or "" for cell in row) for row in read] == list(rows)
    for row in read:
        assert [cell.tag for cell in row] == ["th", *["td"] * (len(row) - 1)]
        assert row[0].attrib == {"scope": "row"}
    assert str(escape(body)) == str(body)  # a template takes it as it is
