"""The rendering of look-ups, exact to the character."""

import re

from msgspec.structs import replace

from reports.coverage import render_coverage
from reports.known import (
    Coverage,
    FamilyCount,
    FieldCount,
    KnownCard,
    KnownConflict,
    KnownSource,
    Lookup,
)
from reports.lookup import render_lookup
from reports.record import Envelope

CARD = KnownCard(
    vendor="NVIDIA",
    family="GeForce 10",
    model="GeForce GTX 1070",
    aliases=("GTX 1070 Founders",),
    form="desktop",
    chip="GP104",
    chip_names=(),
    architecture="pascal-6.1",
    compute_capability="6.1",
    gfx_targets=(),
    unit_name="streaming multiprocessor",
    units=15,
    chip_units=20,
    shaders=1920,
    base_mhz=1506,
    boost_mhz=1683,
    shader_mhz=None,
    processors=1,
    memory_bytes=8 * 2**30,
    memory_type="GDDR5",
    bus_width_bits=256,
    data_rate_mtps=8000,
    bandwidth_gbps=256.0,
    fp32_gflops=6462.7,
    fp64_per_clock=(4.0, 4.0),
    fp16_per_clock=None,
    ecc=False,
    l2_kib=2048,
    llc_mib=None,
    pci_ids=("10de:1b81",),
    pci_revisions=(),
    pci_subsystems=(),
    pcie="3 x16",
    power_w=150,
    power_plugs=("8-pin",),
    outputs=("DVI-D", "HDMI", "DP", "DP", "DP"),
    launch="2016-06-10",
    last_made=None,
    remarks=("Also sold with GDDR5X.",),
    conflicts=(
        KnownConflict(
            field="boost_mhz",
            says=("1683 (a)", "1708 (b)"),
            used="1683",
            why="The vendor says so.",
        ),
    ),
    odd=None,
    not_judged=(),
    source="wikipedia-nvidia",
    from_memory=("outputs",),
)
ANSWER = Lookup(
    asked="GTX 1070",
    cards=(CARD,),
    envelopes=(
        Envelope(
            quantity="fp32",
            low=4.01e12,
            high=8.08e12,
            unit="FLOP/s",
            basis="15 units x 128 lanes x 2 x 1683 MHz, of it 0.62 to 1.25",
        ),
    ),
    siblings=(("GP104", ("GeForce GTX 1080 (20 units, 8.00 GiB)",)),),
    notes=("A note.",),
    sources=(
        KnownSource(
            id="wikipedia-nvidia", title="A list", publisher="Wikipedia", date="2025"
        ),
    ),
)
SHOWN = """\
GeForce GTX 1070
   Chip         GP104, 15 of 20 streaming multiprocessors, 1920 lanes, compute
                capability 6.1
   Memory       8.00 GiB GDDR5, 256 bit x 8000 MT/s / 8 = 256 GB/s
   Clocks       base 1506 MHz, boost 1683 MHz
   Peak         6.46 TFLOP/s fp32 at the highest of these clocks
   Caches       L2 2.00 MiB
   PCI          10de:1b81
   Link         PCIe 3.0 x16
   Power        150 W, 8-pin
   Outputs      DVI-D, HDMI, 3 x DP
   Launched     2016-06-10
   Also called  GTX 1070 Founders
   Remark       Also sold with GDDR5X.
   Disputed     boost_mhz: 1683 (a), 1708 (b); used is 1683: The vendor says so.
   Source       wikipedia-nvidia
   By memory    outputs

A genuine one shows
   Single precision (fp32)  4.01 to 8.08 TFLOP/s  15 units x 128 lanes x 2 x
                                                  1683 MHz, of it 0.62 to 1.25

Also made of GP104
   GeForce GTX 1080 (20 units, 8.00 GiB)

A note.
Sources
   wikipedia-nvidia  A list. Wikipedia, 2025
"""


def shown(console_of, what, width=80, encoding="utf-8"):
    console = console_of(width, encoding)
    console.print(what)
    return console.shown()


def test_one_card_with_all_its_facts(console_of):
    assert shown(console_of, render_lookup(ANSWER)) == SHOWN


def test_cards_that_differ_in_memory_alone_are_shown_as_one(console_of):
    other = replace(CARD, memory_bytes=4 * 2**30, bandwidth_gbps=224.0)
    cut = replace(CARD, units=14)
    answer = replace(ANSWER, cards=(CARD, cut, other), envelopes=(), sources=())
    lines = shown(console_of, render_lookup(answer)).splitlines()
    assert [line for line in lines if line.startswith("GeForce")] == [CARD.model] * 2
    assert [line.split()[1] for line in lines if "Memory" in line] == [
        "8.00", "4.00", "8.00",
    ]  # fmt: skip


def test_many_cards_are_a_list(console_of):
    many = replace(ANSWER, cards=(CARD,) * 9, full=False, envelopes=(), siblings=())
    lines = shown(console_of, render_lookup(many)).splitlines()
    assert lines[0].split() == [
        "card", "chip", "units", "memory", "GB/s", "GFLOP/s", "launch",
    ]  # fmt: skip
    assert lines[1] == (
        "GeForce GTX 1070  GP104     15  8.00 GiB GDDR5   256     6463  2016-06-10"
    )
    assert len([line for line in lines if "GP104" in line]) == 9


def test_what_is_unknown_is_left_out_and_none_is_said(console_of):
    bare = replace(
        CARD, boost_mhz=None, l2_kib=None, pci_ids=(), pcie=None, power_w=None,
        power_plugs=(), outputs=(), launch=None, aliases=(), remarks=(), conflicts=(),
        from_memory=(), form="laptop", gfx_targets=("gfx900", "gfx901"),
        compute_capability=None, last_made="2018", ecc=True, llc_mib=96,
        processors=2, not_judged=("fp64",),
    )  # fmt: skip
    text = shown(console_of, render_lookup(replace(ANSWER, cards=(bare,))), 120)
    text = re.sub(" +", " ", text)
    for line in (
        "GeForce GTX 1070 (laptop)",
        "Clocks base 1506 MHz",
        "Not judged fp64",
        "Board 2 processors, each as follows",
        "Power no connector",
        "Outputs none",
        "Launched last made 2018",
        "Caches last level 96.0 MiB",
        "gfx900 or gfx901",
        "can keep check bits",
    ):
        assert line in text
    for label in ("PCI ", "Link ", "Also called", "Disputed", "By memory"):
        assert label not in text


def test_a_narrow_terminal_and_an_old_encoding(console_of):
    named = replace(CARD, chip_names=("Ärmchen",))
    view = render_lookup(replace(ANSWER, cards=(named,)))
    for line in shown(console_of, view, 40, "ascii").splitlines():
        assert len(line) <= 40


def test_coverage(console_of):
    coverage = Coverage(
        version="1",
        sha256="ab" * 32,
        models=2,
        variants={"NVIDIA": 3, "AMD": 1},
        families=(
            FamilyCount(
                vendor="NVIDIA", family="GeForce 10", models=1, variants=3, facts=0.5
            ),
        ),
        fields=(FieldCount(field="launch", known={"NVIDIA": 3}),),
    )
    text = shown(console_of, render_coverage(coverage))
    assert text == (
        "2 models in 4 variants: NVIDIA 3, AMD 1\n"
        "Table 1, sha256 abababababababab\n"
        "\n"
        "vendor  generation  models  variants   facts\n"
        "NVIDIA  GeForce 10       1         3  50.0 %\n"
        "\n"
        "known of  NVIDIA  AMD     all\n"
        "launch     100 %  0 %  75.0 %\n"
    )
