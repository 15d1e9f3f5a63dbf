import samples
from hypothesis import given
from record_strategies import records

from reports.figures import tables_of
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
