"""Each check of the table's plausibility finds what it is there to find."""

import pytest
from msgspec.structs import replace

from reference import plausibility
from reference.compiled import Content
from reference.table import Table

GIB = 2**30


@pytest.fixture
def gtx_1070(table):
    rows = table.resolve("GTX 1070")
    return next(row for row in rows if row.units == 15 and row.memory_type == "GDDR5")


@pytest.mark.parametrize(
    ("size", "kind", "bus", "fits"),
    [
        (8 * GIB, "GDDR5", 256, True),
        (7 * GIB, "GDDR5", 256, False),
        (6 * GIB, "GDDR5", 256, False),
        (3 * GIB, "GDDR5", 192, True),
        (2 * GIB, "GDDR5", 192, False),  # true of the GTX 660: two densities
        (32 * GIB, "GDDR5", 256, False),  # no such chips
        (24 * GIB, "GDDR7", 512, False),
        (32 * GIB, "GDDR7", 512, True),
        (80 * GIB, "HBM3", 5120, True),
        (94 * GIB, "HBM3", 6016, True),
        (4 * GIB, "HBM", 4096, True),
        (8 * GIB, "HBM", 4096, False),
        (1 * GIB, "DDR3", 64, True),
        (16 * GIB, "DDR3", 64, False),
    ],
)
def test_sizes(gtx_1070, size, kind, bus, fits):
    row = replace(gtx_1070, memory_bytes=size, memory_type=kind, bus_bits=bus)
    assert (list(plausibility.sizes([row])) == []) == fits
    assert list(plausibility.sizes([replace(row, odd="Two densities.")])) == []


def test_twins(gtx_1070):
    other = replace(gtx_1070, id="other", base_mhz=1400)
    assert len(list(plausibility.twins([gtx_1070, other]))) == 1
    for told in ({"remarks": ("Sold in one country.",)}, {"odd": "A later clock."}):
        assert list(plausibility.twins([gtx_1070, replace(other, **told)])) == []
    assert list(plausibility.twins([gtx_1070, replace(other, rate_mtps=9000)])) == []


def test_shared_ids(gtx_1070):
    plain = replace(gtx_1070, revisions=(), subsystems=(), remarks=(), odd=None)
    other = replace(plain, id="other", model="GeForce GTX 1071")
    assert list(plausibility.shared_ids([plain, other])) == [
        "10de:1b81: GeForce GTX 1070, GeForce GTX 1071 share it, nothing parts them"
    ]
    assert list(plausibility.shared_ids([plain, replace(other, revisions=("a1",))]))
    parted = [replace(plain, revisions=("a1",)), replace(other, subsystems=("10de:1",))]
    assert list(plausibility.shared_ids(parted)) == []
    assert list(plausibility.shared_ids([plain, replace(other, units=16)])) == []
    assert (
        list(plausibility.shared_ids([plain, replace(other, odd="Sold anew.")])) == []
    )


@pytest.mark.parametrize(
    ("name", "units", "launch", "fits"),
    [
        ("GeForce GTX 1080", 14, None, False),
        ("GeForce GTX 1080", 15, None, True),
        ("GeForce GTX 1070 Ti", 14, None, False),
        ("GeForce GTX 1070 SE", 16, None, False),
        ("GeForce GTX 1070 SE", 14, None, True),
        ("GeForce GTX 1070 SUPER", 16, "2010-01-01", False),
        ("GeForce GTX 1170", 4, None, True),  # another hundred
        ("GeForce GT 1080", 4, None, True),  # another brand
    ],
)
def test_order(gtx_1070, name, units, launch, fits):
    other = replace(
        gtx_1070, id="other", model=name, units=units, launch=launch, odd=None
    )
    assert (list(plausibility.order([gtx_1070, other])) == []) == fits
    told = replace(other, odd="The maker's whim.")
    assert list(plausibility.order([gtx_1070, told])) == []


def test_dates(gtx_1070):
    assert list(plausibility.dates([replace(gtx_1070, last_made="2015")]))
    assert not list(plausibility.dates([replace(gtx_1070, last_made="2016")]))


def test_orphans(table):
    content = Content(
        sha256="",
        variants=table.variants[:1],
        chips=table.chips,
        architectures=table.architectures,
        sources=table.sources | {"nobody": table.sources["memory"]},
    )
    told = list(plausibility.orphans(Table(content)))
    assert "chips.toml: GK107: no card has it" in told
    assert "sources.toml: nobody: nothing cites it" in told
