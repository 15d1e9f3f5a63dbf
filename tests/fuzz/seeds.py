"""Good inputs to begin from: real records, tables, pages. Small ones, to be quick."""

import base64
from functools import cache
from pathlib import Path

import samples
from msgspec.structs import replace

from reference import compiled, gather
from reference.table import DATA
from reports.carried import link_of
from reports.codec import decode, encode
from reports.page import render_page
from reports.record import Record

GOLDEN = Path(__file__).parents[1] / "data" / "golden"
_FEW = 2


@cache
def records() -> tuple[Record, ...]:
    """Return every stored record and every sample."""
    files = [path.read_bytes() for path in sorted(GOLDEN.glob("*.json"))]
    stored = [decode(data) for data in files if b'"schema"' in data]
    return (*stored, *(make() for make in samples.EVERY.values()))


def slim(record: Record) -> Record:
    """Return a record with the first few of all that comes in numbers."""
    capacity, structure = record.capacity, record.structure
    telemetry, genuine = record.telemetry, record.genuine
    if capacity is not None:
        capacity = replace(
            capacity, blocks=capacity.blocks[:_FEW], passes=capacity.passes[:_FEW]
        )
    if structure is not None:
        structure = replace(structure, latencies=structure.latencies[:_FEW])
    if telemetry is not None:
        telemetry = replace(telemetry, samples=telemetry.samples[:_FEW])
    if genuine is not None:
        genuine = replace(genuine, envelopes=genuine.envelopes[:_FEW])
    rates = tuple(
        replace(one, sample_seconds=one.sample_seconds[:_FEW]) for one in record.rates
    )
    return replace(
        record,
        capacity=capacity,
        structure=structure,
        telemetry=telemetry,
        genuine=genuine,
        rates=rates[:_FEW],
        phases=record.phases[:_FEW],
        findings=record.findings[:_FEW],
        identified=None,
    )


@cache
def slim_records() -> list[bytes]:
    return list(dict.fromkeys(encode(slim(record)) for record in records()))


@cache
def whole_records() -> list[bytes]:
    return list(dict.fromkeys(encode(record) for record in records()))


@cache
def pages() -> list[bytes]:
    """Return a whole page, and as little around a record as makes a page."""
    small = slim_records()[0]
    whole = render_page(decode(small), small).encode()
    cut = [
        b'<!doctype html><p class="carry"><a id="record" download="record.json" '
        b'href="data:application/json;base64,'
        + base64.b64encode(data)
        + b'">Save</a></p>'
        for data in slim_records()
    ]
    both = b"".join(
        b'<p class="carry"><a id="%s" download="%s.json" href="%s">Save</a></p>'
        % (name, name, link_of(small).encode())
        for name in (b"before", b"after")
    )
    return [*cut, whole, b"<!doctype html>" + both]


CARDS = b"""\
vendor = "NVIDIA"
family = "Pascal"
source = "own"

[sources.own]
title = "Data sheet"
publisher = "Maker"
date = "2016"

[[card]]
model = "GeForce GTX 1070"
aliases = ["GTX1070"]
form = "desktop"
chip = "GP104"
units = 15
base_mhz = 1506
boost_mhz = 1683
fp64 = 4.0
ecc = false
l2_kib = 2048
pci = ["10de:1b81"]
revisions = ["a1"]
subsystems = ["10de:119d"]
pcie = "3 x16"
power_w = 150
power_plugs = ["8-pin"]
outputs = ["DVI-D", "HDMI", "DP"]
launch = "2016-06-10"
remarks = ["Made up."]
from_memory = ["launch"]
source = ["own"]

[[card.memory]]
mib = 8192
type = "GDDR5"
bus_bits = 256
rate_mtps = 8008

[[card.conflict]]
field = "launch"
says = ["own: June", "other: July"]
used = "June"
why = "The maker knows."

[[seen]]
model = "GeForce GTX 1070 Max"
chip = "GP104"
pci = "10de:1bff"
source = "own"
"""


@cache
def cards_files() -> list[bytes]:
    """Return files of cards as `--reference` takes them."""
    shipped = sorted(
        (DATA / "cards").glob("*.toml"), key=lambda one: one.stat().st_size
    )
    return [CARDS, *(path.read_bytes() for path in shipped[:2])]


@cache
def few_rows() -> compiled.Content:
    """Return the shipped table with a handful of rows: quick to copy."""
    whole = gather.gather(gather.sources(DATA))
    rows = [
        row for row in whole.variants if row.model in {"GeForce GTX 1070", "H100 PCIe"}
    ]
    few = replace(whole, variants=tuple(rows or whole.variants[:3]))
    chips = {row.chip for row in few.variants} | {"GP104"}
    return replace(
        few,
        chips={name: chip for name, chip in whole.chips.items() if name in chips},
        seen=(),
    )
