"""The verdict's one sentence, as a shop clerk reads it, for each deciding rule."""

import made_records as made
import pytest
from made_records import GIB
from msgspec.structs import replace

from reference.judge import judge


@pytest.fixture
def card(table):
    return made.genuine(made.one(table, "GTX 1070", units=15), table)


def sentence(record, table):
    return judge(record, table).verdict.sentence


SOLD = "Sold as a GeForce GTX 1070 with 8.00 GiB. "


def fake(card):
    return replace(card, capacity=made.capacity(8 * GIB, real=2 * GIB))


def wrong(card):
    return made.with_rate(card, "fp32", wrong=3)


def units(card):
    return made.with_claims(card, ("opencl",), compute_units=2)


def named(card):
    return made.with_claims(card, ("opencl", "nvml"), model="GeForce GTX 650")


@pytest.mark.parametrize(
    ("done", "words"),
    [
        ((fake,), "Found: 2.00 GiB of working memory. Not as claimed."),
        (
            (fake, wrong),
            "Found: 2.00 GiB of working memory. Not as claimed, and faulty as well.",
        ),
        (
            (fake, units),
            (
                "Found: 2.00 GiB of working memory, and 2 streaming multiprocessors "
                "instead of 15 or 16. Not as claimed."
            ),
        ),
        (
            (units,),
            "Found: 2 streaming multiprocessors instead of 15 or 16. Not as claimed.",
        ),
        (
            (lambda card: made.with_claims(card, ("nvml",), cores=384),),
            "Found: 384 lanes instead of 1920 or 2048. Not as claimed.",
        ),
        (
            (named,),
            "Found: a card that calls itself a GeForce GTX 650. Not as claimed.",
        ),
        (
            (named, lambda card: made.with_claims(card, memory_bytes=2 * GIB)),
            (
                "Found: a card that calls itself a GeForce GTX 650, and a card that "
                "reports 8.00 GiB."
            ),
        ),
        (
            (lambda card: made.with_claims(card, ("pci", "nvml"), pci_id="10de:0fc6"),),
            "Found: the PCI id of a GK107 (10de:0fc6). Not as claimed.",
        ),
        (
            (lambda card: made.with_claims(card, ("pci",), pci_id="1002:67df"),),
            "Found: the PCI id of another maker's card (1002:67df). Not as claimed.",
        ),
        (
            (lambda card: made.with_claims(card, ("nvml",), compute_capability="3.0"),),
            "Found: a chip of compute capability 3.0 instead of 6.1. Not as claimed.",
        ),
        (
            (lambda card: made.with_claims(card, ("nvml",), bus_width_bits=128),),
            "Found: a memory bus of 128 bits instead of 256 bits. Not as claimed.",
        ),
        (
            (wrong,),
            "arithmetic that comes out wrong (3 of 4,096 results wrong). Faulty.",
        ),
    ],
)
def test_what_was_found(table, card, done, words):
    for change in done:
        card = change(card)
    if "reports 8.00" in words:  # the size is only reported smaller: one part
        card = replace(card, capacity=made.capacity(2 * GIB))
        words = (
            "Found: a card that calls itself a GeForce GTX 650 with 2.00 GiB. "
            "Not as claimed."
        )
    said = sentence(card, table)
    assert said.startswith(SOLD)
    assert said.endswith(words)


def test_a_size_that_was_never_made(table):
    """20 GiB of an H100 that reports 160: refused beyond, or beyond it nothing."""
    row = made.one(table, "NVIDIA H100 80GB HBM3")
    card = made.genuine(row, table, listed=False)
    card = made.with_claims(card, ("opencl", "nvml"), memory_bytes=160 * GIB)
    refused = replace(
        made.capacity(160 * GIB), covered_bytes=20 * GIB, proven_bytes=20 * GIB
    )
    assert sentence(replace(card, capacity=refused), table) == (
        "Reported as an H100 80GB HBM3 with 160 GiB. No H100 80GB HBM3 was ever made "
        "with 160 GiB, and 20.0 GiB answered. Not as claimed."
    )
    hollow = made.capacity(160 * GIB, real=20 * GIB, beyond="hollow")
    assert sentence(replace(card, capacity=hollow), table) == (
        "Reported as an H100 80GB HBM3 with 160 GiB. No H100 80GB HBM3 was ever made "
        "with 160 GiB. Found: 20.0 GiB of working memory. Not as claimed."
    )
    assert sentence(replace(card, capacity=None), table).endswith(
        "No H100 80GB HBM3 was ever made with 160 GiB. Not as claimed."
    )


def test_a_card_that_reports_too_little(table, card):
    small = made.with_claims(card, ("opencl", "nvml"), memory_bytes=4 * GIB)
    small = replace(small, capacity=made.capacity(4 * GIB))
    assert sentence(small, table) == (
        "Sold as a GeForce GTX 1070 with 8.00 GiB. No GeForce GTX 1070 was ever made "
        "with 4.00 GiB. Found: a card that reports 4.00 GiB. Not as claimed."
    )


@pytest.mark.parametrize(
    ("wrong_cells", "words"),
    [(1, "(1 cell)"), (3, "(3 cells)"), (6 * 10**7, "(11.3 % of the cells)")],
)
def test_memory_that_fails(table, card, wrong_cells, words):
    size = 8 * GIB
    covered = int(size * 0.985)
    failing = made.capacity(size, real=covered - 16 * wrong_cells, beyond="failing")
    assert sentence(replace(card, capacity=failing), table) == (
        f"{SOLD}Found: memory that gives back wrong data {words}. Faulty."
    )


def short(**more):
    settings = {"covered_bytes": 2 * GIB, "proven_bytes": 2 * GIB} | more
    return lambda card: replace(
        card, capacity=replace(made.capacity(8 * GIB), **settings)
    )


@pytest.mark.parametrize(
    ("change", "clause"),
    [
        (short(), "Doubtful, but not proven false: its driver gave only 2.00 of 8.00"),
        (
            short(covered_bytes=6 * GIB, spilled_bytes=4 * GIB),
            "only 2.00 of 8.00 GiB were proven, 4.00 GiB lay in the PC's own memory",
        ),
        (
            short(ended_by="limit asked for"),
            "but only 2.00 of 8.00 GiB were tested, as more was not asked for",
        ),
        (
            short(free_bytes=2 * GIB),
            "only 2.00 of 8.00 GiB were tested, as other programs held the rest",
        ),
        (
            short(ended_by="host memory"),
            "were tested, as the PC's own memory ran short",
        ),
        (
            lambda card: replace(card, interrupted=True),
            "Nothing proves it false, but the test was stopped before its end",
        ),
        (
            lambda card: replace(card, capacity=None),
            "but the memory was not proven",
        ),
        (
            lambda card: made.listed_as(card, "GTX 1077"),
            "but the table of genuine cards does not know this name",
        ),
        (
            lambda card: made.with_claims(card, model="GeForce GTX 1077"),
            "but the card calls itself a GeForce GTX 1077",
        ),
        (
            lambda card: made.with_claims(card, model=None),
            "but the card names no model of its own",
        ),
        (
            lambda card: made.with_claims(card, ("opencl",), model="GTX 1080"),
            "its drivers call it by different names",
        ),
        (
            lambda card: made.with_claims(card, ("pci", "nvml"), pci_id="10de:1b80"),
            "false: it has the PCI id of a GeForce GTX 1080 (10de:1b80)",
        ),
        (
            lambda card: made.with_rate(card, "memory_read", value=1e9),
            "false: it is slower than a GeForce GTX 1070 should be (memory, reading)",
        ),
        (
            lambda card: made.with_rate(card, "fp64", value=3.2e12),
            "false: its rates do not stand to each other as on a GeForce GTX 1070",
        ),
        (
            lambda card: replace(card, card=replace(card.card, kind="cpu")),
            "but this is no graphics card with memory of its own",
        ),
    ],
)
def test_what_could_not_be_settled(table, card, change, clause):
    said = sentence(change(card), table)
    assert clause in said
    assert said.endswith(". Undetermined.")


def test_a_chips_name_alone(table):
    row = made.one(table, "RX 580", memory_bytes=8 * GIB)
    card = made.with_claims(made.genuine(row, table, listed=False), model="gfx803")
    assert "but its driver names only the chip (" in sentence(card, table)


def test_a_listing_that_tells_only_the_size(table, card):
    listing = replace(card.claims[0], model=None)
    record = replace(card, claims=(listing, *card.claims[1:]))
    assert sentence(record, table).startswith(
        "Reported as a GeForce GTX 1070, sold with 8.00 GiB. Found: 7.76 GiB"
    )


def test_reasons_start_with_what_tells_most(table, card):
    reasons = judge(units(fake(card)), table).verdict.reasons
    assert reasons[0].startswith("Of 8.00 GiB reported, only 2.00 GiB answer")
    assert reasons[1] == (
        "OpenCL counts 2 streaming multiprocessors; a GeForce GTX 1070 has 15 or 16."
    )


def test_sources_are_given_by_their_titles(table, card):
    judged = judge(card, table)
    said = {source for one in judged.findings for source in one.sources}
    said |= set(judged.genuine.sources)
    said |= {source for one in judged.genuine.envelopes for source in one.sources}
    assert "Wikipedia: List of Nvidia graphics processing units" in said
    assert not said & set(table.sources)
    assert max(map(len, said)) < 140
    h100 = judge(made.genuine(made.one(table, "NVIDIA H100 80GB HBM3"), table), table)
    told = [one for one in h100.genuine.sources if "memory" in one.casefold()]
    assert all(one.endswith("(from memory)") for one in told)


def test_figures_read_well(table, card):
    judged = {one.rule: one for one in judge(card, table).findings}
    assert judged["fp64-ratio"].envelope == "0.0312 of fp32"
    assert judged["fp32-rate"].claim == "a GeForce GTX 1070"
    assert judged["compute-capability"].claim == "6.1"
    assert judged["compute-units"].claim == "15 or 16"
    h100 = made.genuine(made.one(table, "NVIDIA H100 80GB HBM3"), table)
    judged = {one.rule: one for one in judge(h100, table).findings}
    assert judged["model-known"].measured == "1 variant in the table"
    assert judged["fp64-ratio"].envelope == "0.500 of fp32"


def test_a_neighbour_is_named_as_the_cause(table):
    from pathlib import Path  # noqa: PLC0415 - one test's

    from reports import codec  # noqa: PLC0415 - one test's

    golden = Path(__file__).parents[1] / "data" / "golden" / "h100-sxm.json"
    card = codec.load(golden)
    halved = tuple(
        replace(one, value=one.value / 2)
        if one.value and not one.name.startswith(("link", "local"))
        else one
        for one in card.rates
    )
    proof = replace(card.capacity, free_bytes=card.capacity.free_bytes - 1_600_000_000)
    held = replace(card, rates=halved, capacity=proof)
    assert sentence(held, table) == (
        "Reported as an H100 80GB HBM3 with 79.6 GiB. Nothing proves it false, but "
        "another program was using the card meanwhile. Undetermined."
    )
