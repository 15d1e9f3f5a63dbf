"""Genuine cards in odd company are never accused; forgeries with a good alibi are."""

import made_records as made
import pytest
from made_records import GIB
from msgspec.structs import replace

from reference.judge import judge
from reports.record import Claim, Phase

MIB = 2**20

# What drivers printed of cards, from public device listings: OpenCL platform, name,
# MiB, units, compute capability or compiler target.
PRINTED = [
    ("NVIDIA CUDA", "NVIDIA GeForce RTX 4070 SUPER", 12281, 56, None),
    ("NVIDIA CUDA", "NVIDIA GeForce RTX 2080", 7779, 46, None),
    ("NVIDIA CUDA", "GeForce GTX 970", 4043, 13, None),
    ("NVIDIA CUDA", "GeForce GTX 650", 978.5, 2, "3.0"),
    ("NVIDIA CUDA", "GeForce GTX 470", 1279.6, 14, "2.0"),
    ("NVIDIA CUDA", "GeForce GTX 1060 3GB", 3013.9, 9, "6.1"),
    ("NVIDIA CUDA", "GeForce GTX 1650 SUPER", 3878.2, 20, "7.5"),
    ("NVIDIA CUDA", "NVIDIA GeForce RTX 2060", 12287, 34, "7.5"),
    ("NVIDIA CUDA", "NVIDIA GeForce RTX 5090", 32109.1, 170, "12.0"),
    ("AMD Accelerated Parallel Processing", "Radeon RX 570 Series", 4096, 32, "gfx803"),
    ("AMD Accelerated Parallel Processing", "AMD Radeon RX 7900 XTX", 24560, 48, None),
    ("AMD Accelerated Parallel Processing", "AMD Radeon RX 6600", 8176, 14, "gfx1032"),
    ("AMD Accelerated Parallel Processing", "Radeon RX Vega", 8176, 64, "gfx900"),
    (
        "AMD Accelerated Parallel Processing",
        "AMD Radeon (TM) R9 390 Series",
        7049.8,
        44,
        "Hawaii",
    ),
    ("Intel(R) OpenCL Graphics", "Intel(R) Arc(TM) A770 Graphics", 15473.6, 512, None),
    ("Intel(R) OpenCL Graphics", "Intel(R) Arc(TM) A380 Graphics", 5723, 128, None),
]


@pytest.mark.parametrize(("platform", "name", "mib", "units", "kind"), PRINTED)
@pytest.mark.parametrize("listed", [True, False])
def test_cards_as_their_drivers_print_them(
    table, platform, name, mib, units, kind, listed
):
    size = int(mib * MIB)
    rows = table.resolve(name)
    row = min(
        rows, key=lambda one: (abs(one.memory_bytes - size), abs(one.units - units))
    )
    card = made.genuine(row, table, listed=listed)
    told = Claim(
        layer="opencl",
        source=f"OpenCL, platform {platform}",
        model=name,
        memory_bytes=size,
        compute_units=units,
        compute_capability=kind if kind and kind[0].isdigit() else None,
        gfx_target=kind if kind and not kind[0].isdigit() else None,
    )
    rest = tuple(one for one in card.claims if one.layer == "listing")
    card = replace(
        card,
        claims=(*rest, told),
        capacity=made.capacity(size),
        card=replace(card.card, platform=platform),
    )
    assert judge(card, table).verdict.outcome == "as claimed"


@pytest.fixture
def gtx_1070(table):
    return made.genuine(made.one(table, "GTX 1070", units=15), table)


@pytest.fixture
def rx_580(table):
    return made.genuine(made.one(table, "RX 580", memory_bytes=8 * GIB), table)


def beside(card, platform, **fields):
    """The card with a further OpenCL platform's word on it."""
    told = Claim(layer="opencl", source=f"OpenCL, platform {platform}", **fields)
    identity = replace(card.card, also_seen_through=(platform,))
    return replace(card, claims=(*card.claims, told), card=identity)


MESA = "AMD Radeon RX 580 Series (radeonsi, polaris10, ACO, DRM 3.54, 6.5.0)"


@pytest.mark.parametrize(
    "platform", ["rusticl", "Portable Computing Language", "Other"]
)
def test_a_stand_in_beside_the_makers_driver_changes_nothing(table, rx_580, platform):
    before = judge(rx_580, table).verdict.outcome
    lying = beside(
        rx_580,
        platform,
        model="AMD Radeon RX 6800",
        memory_bytes=24 * GIB,
        compute_units=1,
    )
    assert judge(lying, table).verdict.outcome == before == "as claimed"


@pytest.mark.parametrize(
    "fields",
    [
        {"model": MESA, "memory_bytes": 15 * GIB, "compute_units": 144},
        {"model": "AMD Radeon RX 6800 (radeonsi, navi21)", "memory_bytes": 8 * GIB},
        {"model": "Baffin", "memory_bytes": 8 * GIB},
        {"model": MESA, "memory_bytes": 2 * GIB},
    ],
)
def test_a_stand_in_alone_never_decides(table, rx_580, fields):
    told = Claim(layer="opencl", source="OpenCL, platform rusticl", **fields)
    card = replace(
        rx_580,
        claims=(rx_580.claims[0], told),
        card=replace(rx_580.card, platform="rusticl"),
        capacity=made.capacity(fields["memory_bytes"]),
    )
    assert judge(card, table).verdict.outcome in ("as claimed", "undetermined")


@pytest.mark.parametrize("model", ["Radeon R9 290", "Radeon R9 280X", "Radeon R9 285"])
def test_a_familys_name_never_disowns_a_member(table, model):
    rows = table.resolve(model)
    if not rows:
        pytest.fail(f"the table lacks {model}")
    card = made.genuine(rows[0], table)
    card = made.with_claims(card, ("opencl",), model="AMD Radeon R9 200 Series")
    assert judge(card, table).verdict.outcome in ("as claimed", "undetermined")


def test_a_familys_name_of_another_generation_does(table, rx_580):
    card = made.with_claims(rx_580, ("opencl",), model="AMD Radeon HD 7900 Series")
    assert judge(card, table).verdict.outcome == "not as claimed"


@pytest.mark.parametrize(
    "name",
    [
        "GeForce GTX 1070 with Max-Q Design",
        "NVIDIA GeForce RTX 4070 Laptop GPU",
        "Quadro FX 4800",
        "NVIDIA Graphics Device",
        "Ellesmere",
        "gfx1030",
        "Microsoft Basic Render Driver",
        "llvmpipe (LLVM 15.0.7, 256 bits)",
    ],
)
def test_odd_names_without_a_listing_are_open(table, gtx_1070, name):
    card = made.with_claims(gtx_1070, ("opencl", "nvml"), model=name)
    card = replace(card, claims=card.claims[1:])
    assert judge(card, table).verdict.outcome == "undetermined"


def test_a_riser_slows_the_link_alone(table, gtx_1070):
    link = replace(gtx_1070.rates[0], name="link_down", unit="B/s", value=0.8e9)
    card = replace(gtx_1070, rates=(*gtx_1070.rates, link))
    card = made.with_claims(card, ("nvml", "pci"), link_generation=1, link_width=1)
    assert judge(card, table).verdict.outcome == "as claimed"


def test_a_driver_without_fp64_or_any_sensor(table, rx_580):
    card = made.with_rate(rx_580, "fp64", value=None, missing="no cl_khr_fp64")
    assert judge(replace(card, telemetry=None), table).verdict.outcome == "as claimed"


def test_a_card_half_held_by_another_process(table, gtx_1070):
    held = replace(
        made.capacity(8 * GIB, free=int(3.2 * GIB)),
        covered_bytes=int(3.15 * GIB),
        proven_bytes=int(3.15 * GIB),
    )
    card = replace(gtx_1070, capacity=held, telemetry=made.telemetry(busy=100.0))
    for name in made.NAMES + made.MEMORY:
        value = next(one.value for one in card.rates if one.name == name)
        card = made.with_rate(card, name, value=value / 4)
    verdict = judge(card, table).verdict
    assert verdict.outcome == "undetermined"
    assert "other programs held the rest" in verdict.sentence


def test_layers_that_agree_are_one_finding(table, gtx_1070):
    both = made.with_claims(gtx_1070, ("opencl", "nvml"), compute_units=15)
    judged = judge(both, table)
    said = [one.sentence for one in judged.findings if one.rule == "compute-units"]
    assert said == [
        "NVML and OpenCL count 15 streaming multiprocessors, as on a GeForce GTX 1070."
    ]
    apart = made.with_claims(both, ("nvml",), compute_units=2)
    judged = judge(apart, table)
    assert sum(one.rule == "compute-units" for one in judged.findings) == 2


# -- misses: what has to be caught -----------------------------------------------------


@pytest.mark.parametrize(
    ("model", "bits", "strength"),
    [
        ("GTX 1070", 128, "decisive"),
        ("GTX 1070", 384, "decisive"),
        ("RTX 3080", 256, "decisive"),
        ("RTX 3060 Ti", 256, "agrees"),
        ("GTX 1060 5GB", 192, "strong"),  # its chip's full width
        ("NVIDIA H100 80GB HBM3", 4096, "strong"),  # a stack may be off
    ],
)
def test_the_width_of_the_memory_bus(table, model, bits, strength):
    row = table.resolve(model)[-1]
    card = made.with_claims(made.genuine(row, table), ("nvml",), bus_width_bits=bits)
    judged = judge(card, table)
    one = next(one for one in judged.findings if one.rule == "bus-width")
    assert (one.bearing if strength == "agrees" else one.strength) == strength
    assert (judged.verdict.outcome == "not as claimed") == (strength == "decisive")


def test_a_whole_card_whose_name_sounds_like_a_slice_is_judged(table):
    """GRID K1 and K2 are boards; GRID P40-8Q is a part of one."""
    row = table.resolve("GRID K1")[0]
    card = made.with_claims(made.genuine(row, table), ("nvml",), cores=1536)
    judged = judge(card, table)
    assert judged.verdict.outcome == "undetermined"  # its units are from memory
    assert [one.rule for one in judged.findings if one.bearing == "contradicts"] == [
        "lane-count"
    ]


def test_a_sibling_with_other_memory_is_caught(table):
    """A GTX 1060 3GB, whose units and memory are fewer, under the 6 GiB card's name."""
    real = made.one(table, "GTX 1060 3GB", units=9)
    card = made.genuine(real, table)
    card = made.with_claims(card, ("opencl", "nvml"), model="GeForce GTX 1060 6GB")
    card = made.listed_as(card, "GTX 1060 6GB", 6 * GIB)
    assert judge(card, table).verdict.outcome == "not as claimed"


# -- broken-off runs -------------------------------------------------------------------


def passes(card, count, cells=None):
    """The record of a mirrored card with so many reading passes, then stopped."""
    proof = made.capacity(8 * GIB, real=2 * GIB)
    reading = proof.passes[1]
    if cells is not None:
        counts = replace(reading.counts, cells=cells, intact=cells // 4)
        counts = replace(counts, mirrored=cells - cells // 4)
        reading = replace(reading, counts=counts)
    stopped = replace(proof, passes=(proof.passes[0], *[reading] * count))
    return replace(card, capacity=stopped, interrupted=True, rates=())


def test_what_two_whole_passes_prove_stands(table, gtx_1070):
    assert judge(passes(gtx_1070, 2), table).verdict.outcome == "not as claimed"


@pytest.mark.parametrize(("count", "cells"), [(1, None), (2, 10**8)])
def test_less_of_a_broken_off_run_decides_nothing(table, gtx_1070, count, cells):
    verdict = judge(passes(gtx_1070, count, cells), table).verdict
    assert verdict.outcome == "undetermined"
    assert verdict.sentence.startswith(
        "Sold as a GeForce GTX 1070 with 8.00 GiB. Doubtful, but not proven false: "
        "only 2.00 of 8.00 GiB seem to be there."
    )
    assert "Run the whole test again, to its end." in verdict.settle


def test_a_device_lost_in_the_second_pass(table, gtx_1070):
    lost = Phase(
        name="turn", outcome="failed", started_seconds=1.0, seconds=1.0, detail="lost"
    )
    proof = replace(
        gtx_1070.capacity,
        passes=(gtx_1070.capacity.passes[0], gtx_1070.capacity.passes[2]),
    )
    card = replace(gtx_1070, phases=(lost,), capacity=proof, rates=())
    verdict = judge(card, table).verdict
    assert verdict.outcome == "undetermined"
    assert "the test of its memory broke off. Undetermined." in verdict.sentence
    assert verdict.reasons[0] == "The test of its memory broke off: lost."
    assert "The test of memory or link, turn: failed (lost)." in verdict.unchecked
    proof = replace(proof, passes=made.capacity(8 * GIB, real=2 * GIB).passes[1:])
    card = replace(card, capacity=replace(proof, proven_bytes=2 * GIB))
    assert judge(card, table).verdict.outcome == "not as claimed"


def test_phases_left_out_are_named(table, gtx_1070):
    left = Phase(
        name="local_memory",
        outcome="skipped",
        started_seconds=1.0,
        seconds=0.0,
        detail="too little time",
    )
    verdict = judge(replace(gtx_1070, phases=(left,)), table).verdict
    assert verdict.outcome == "as claimed"
    assert "Local memory: left out (too little time)." in verdict.unchecked


@pytest.mark.parametrize(
    ("model", "wanted"),
    [
        ("GeForce GTX 780", {"memory_bytes": 6 * GIB}),
        ("Radeon Pro SSG", {"chip": "Vega 10"}),
    ],
)
def test_a_32_bit_system_that_sees_a_part_between_two_sizes(table, model, wanted):
    """The part that it sees is no size of its own, nor another variant's."""
    row = made.one(table, model, **wanted)
    card = made.genuine(row, table, listed=False)
    card = made.with_claims(card, ("opencl", "nvml"), memory_bytes=int(3.5 * GIB))
    card = replace(
        card,
        capacity=made.capacity(int(3.5 * GIB)),
        host=replace(card.host, machine="x86"),
    )
    assert judge(card, table).verdict.outcome in ("as claimed", "undetermined")
