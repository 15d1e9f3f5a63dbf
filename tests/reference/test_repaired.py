"""Before and after a repair: each condition of honesty alone, and what is told."""

from itertools import pairwise

import hypothesis
import made_records
import msgspec
import pytest
from command_line import shipped
from hypothesis import given, settings
from made_records import genuine, with_claims
from msgspec.structs import replace
from record_strategies import records
from repaired_runs import GIB, LISTING, ROW, after, before, compared, practised
from samples import EVERY

from reference import table as tables
from reference.repaired.compare import compare
from reports.compared.value import Compared, encode_compared
from reports.lasting import Incident, SoakPoint, Spot
from reports.record import CellCounts, Phase


def with_capacity(record, **fields):
    return replace(record, capacity=replace(record.capacity, **fields))


def with_counts(record, **wrong):
    """One pass found so many wrong cells."""
    first, *rest = record.capacity.passes
    passes = []
    for step in (first, *rest):
        counts = step.counts
        if counts is not None and not passes[1:]:
            lost = sum(wrong.values())
            counts = replace(counts, intact=counts.intact - lost, **wrong)
        passes.append(replace(step, counts=counts))
    return with_capacity(record, passes=tuple(passes))


def with_block(record, **fields):
    first, *rest = record.capacity.blocks
    return with_capacity(record, blocks=(replace(first, **fields), *rest))


def with_soak(record, **fields):
    return replace(record, soak=replace(record.soak, **fields))


def with_wrong_result(record):
    first, *rest = record.rates
    return replace(record, rates=(replace(first, wrong=1), *rest))


def with_phase(record, outcome):
    phase = Phase(name="link", outcome=outcome, started_seconds=0.0, seconds=1.0)
    return replace(record, phases=(*record.phases, phase))


def standing_in(record, of=("opencl", "nvml", "pci")):
    """With a stand-in driver's word first, beside what the layers `of` say."""
    own = next(one for one in record.claims if one.layer == "opencl")
    word = replace(
        own, source="OpenCL device query, rusticl", model="NVE7", compute_units=6,
        memory_bytes=GIB, compute_capability=None, driver="23.1",
    )  # fmt: skip
    rest = (one for one in record.claims if one.layer in of)
    return replace(record, claims=(word, *rest))


def incident(kind="crashed"):
    return Incident(kind=kind, phase="verify 1", doing="Memory, first pass")


CUT = {
    "limit": (
        lambda r: with_capacity(r, ended_by="limit asked for"),
        "Only 1.97 GiB of 2.00 GiB were proven: no more was asked for.",
        "without --memory-limit",
    ),
    "host memory": (
        lambda r: with_capacity(r, ended_by="host memory"),
        "the PC's own memory ran short.",
        "close other programs",
    ),
    "below a crash": (
        lambda r: with_capacity(r, ended_by="below a crash"),
        "what lies above cut the test off.",
        "driver",
    ),
    "proof broken": (
        lambda r: with_capacity(r, ended_by="error"),
        "The memory was not proven: the capacity proof did not finish.",
        "to its end",
    ),
    "no proof": (
        lambda r: replace(r, capacity=None),
        "The memory was not proven: the capacity proof did not finish.",
        "whole test again",
    ),
    "too little": (
        lambda r: with_capacity(r, proven_bytes=GIB, covered_bytes=GIB),
        "1.00 GiB of 2.00 GiB were proven. The driver gave no more",
        "close other programs",
    ),
    "standard": (
        lambda r: replace(r, depth="standard"),
        "It was tested at standard depth only.",
        "run `cardassay check --depth thorough`",
    ),
    "quick": (
        lambda r: replace(r, depth="quick"),
        "It was tested at quick depth only.",
        "run `cardassay check --depth thorough`",
    ),
    "interrupted": (
        lambda r: replace(r, interrupted=True),
        "The test was stopped before its end.",
        "to its end",
    ),
    "interrupted phase": (
        lambda r: with_phase(r, "interrupted"),
        "The test was stopped before its end.",
        "to its end",
    ),
    "failed phase": (
        lambda r: with_phase(r, "failed"),
        "A part of the test failed, link.",
        "to its end",
    ),
    "guarded": (
        lambda r: replace(
            r,
            telemetry=replace(
                r.telemetry, stopped="GeForce GTX 650: stopped at 97 °C; clean it"
            ),
        ),
        "The test was stopped at 97 °C.",
        "clean it",
    ),
    "incident": (
        lambda r: replace(r, incidents=(incident(),)),
        "The test was cut off on its way: its driver crashed.",
        "driver afresh",
    ),
    "soak cut short": (
        lambda r: with_soak(r, stopped_by="it became too hot"),
        "The soak ended before its time: it became too hot.",
        "to its end",
    ),
    "block left out": (
        lambda r: with_block(r, state="unreached"),
        "Not every block of its memory was proven.",
        "to its end",
    ),
    "no memory told": (
        lambda r: with_claims(r, memory_bytes=None),
        "No layer of the card tells its memory.",
        "driver",
    ),
    "part of a card": (
        lambda r: with_claims(r, model="GRID M60-1Q"),
        "What was tested is a part of a card, or one that the table does not know.",
        "outside a virtual machine",
    ),
    "processor": (
        lambda r: replace(r, card=replace(r.card, kind="cpu")),
        "This is no graphics card but another device (cpu)",
        "--card",
    ),
    "unknown model": (
        lambda r: with_claims(r, model="GeForce GTX 651"),
        "The table of genuine cards has no GeForce GTX 651.",
        "--reference",
    ),
    "real card": (
        lambda r: replace(r, practice=False, practice_condition=None),
        "of a practice card, the other of a real one: they cannot be compared.",
        "one real card",
    ),
    "soak spots": (
        lambda r: with_soak(
            r,
            spots=(
                Spot(
                    kind="results",
                    test="fp32",
                    at_seconds=1.0,
                    last_seconds=1.0,
                    times=1,
                    wrong=1,
                ),
            ),
        ),
        "Under lasting load something came out wrong.",
        "cooler",
    ),
    "one stray cell": (
        lambda r: with_counts(r, failing=1),
        "1 cell was wrong in one pass and right in the other",
        "another driver",
    ),
    "one stray cell under load": (
        lambda r: with_soak(r, cells=CellCounts(cells=100, intact=99, failing=1)),
        "One cell was wrong once",
        "longer --soak",
    ),
    "thorough in name alone": (
        lambda r: with_capacity(r, passes=r.capacity.passes[:4]),
        "read less often than a thorough test reads it: 3 of 6 times.",
        "run `cardassay check --depth thorough`",
    ),
    "nothing checked": (
        lambda r: replace(r, rates=tuple(replace(rate, checked=0) for rate in r.rates)),
        "None of what it computed was checked.",
        "whole test again",
    ),
    "an invented name in one layer": (
        lambda r: with_claims(r, ("nvml",), model="GeForce GTX 4060 Ultra"),
        "NVML names it GeForce GTX 4060 Ultra, a name that the table of genuine cards",
        "same name to every layer",
    ),
    "two ids": (
        lambda r: with_claims(r, ("pci",), pci_id="10de:0fff"),
        "The card's own layers do not tell one PCI id: 10de:0fc6 and 10de:0fff.",
        "switch the PC off and on",
    ),
    "an old subsystem": (
        lambda r: with_claims(r, ("pci",), subsystem="10DE:119D"),
        "do not tell one subsystem: 10de:119d and 1458:362b.",
        "whole firmware",
    ),
    "a stand-in driver alone": (
        lambda r: standing_in(r, of=("pci",)),
        "The table of genuine cards has no NVE7.",
        "install the maker's own driver",
    ),
    "older": (
        lambda r: replace(r, started="2026-11-19T10:00:00Z"),
        "The record named second is the older one.",
        "first",
    ),
}
WRONG = {
    "failing cells": (
        lambda r: with_counts(r, failing=3),
        "Memory gives back wrong data: 3 cells",
    ),
    "scrambled": (
        lambda r: with_counts(r, scrambled=3),
        "Memory gives back wrong data: 3 cells",
    ),
    "mirrored": (
        lambda r: with_counts(r, mirrored=3),
        "Memory gives back wrong data: 3 cells",
    ),
    "hollow": (
        lambda r: with_counts(r, hollow=3),
        "Memory gives back wrong data: 3 cells",
    ),
    "failing block": (
        lambda r: with_block(r, counts=CellCounts(cells=100, intact=98, failing=2)),
        "Memory gives back wrong data: 2 cells",
    ),
    "wrong result": (with_wrong_result, "The card computes wrong: 1 of "),
    "soak results": (
        lambda r: with_soak(r, wrong=3),
        "Under lasting load the card computes wrong: 3 of ",
    ),
    "soak cells": (
        lambda r: with_soak(r, cells=CellCounts(cells=100, intact=97, failing=3)),
        "Memory gives back wrong data under lasting load: 3 readings",
    ),
    "two sizes": (
        lambda r: with_claims(r, ("opencl",), memory_bytes=4 * GIB),
        "The card's own layers do not tell one size: 2.00 GiB and 4.00 GiB.",
    ),
    "another name": (
        lambda r: with_claims(r, model="GeForce GTX 1070"),
        "Not as claimed",
    ),
}


def test_honest_now():
    view = compared()
    assert view.outcome == "honest now"
    assert view.settled
    assert view.reasons == ()
    assert view.same_card == "fits"
    assert view.practice
    assert view.sentence == (
        "It was sold as a GeForce GTX 1070 with 8.00 GiB, and called itself so. Now it "
        "calls itself a GeForce GTX 650 with 2.00 GiB, and everything measured bears "
        "that out. Honest now."
    )


@pytest.mark.parametrize("name", CUT)
def test_what_was_not_tested_is_not_settled(name):
    change, said, step = CUT[name]
    view = compared(last=change(after()))
    assert view.outcome == "not yet"
    assert not view.settled
    found = [one for one in view.reasons if said in one.sentence]
    assert found, view.reasons
    assert step in found[0].step
    for one in view.reasons:
        assert not one.wrong
        assert one.sentence.endswith(".")
        assert one.step
        assert one.step[-1] not in ".!?"
    assert view.sentence.endswith(" Not yet.")


@pytest.mark.parametrize("name", WRONG)
def test_what_is_wrong_is_not_honest(name):
    change, said = WRONG[name]
    view = compared(last=change(after()))
    assert view.outcome == "not yet"
    assert view.settled
    wrong = [one for one in view.reasons if one.wrong]
    assert any(said in one.sentence for one in wrong) or said in view.sentence
    assert view.reasons[0].wrong
    assert all(one.step for one in view.reasons)


def test_all_reasons_at_once():
    last = replace(after(), depth="quick", interrupted=True, incidents=(incident(),))
    said = [one.sentence for one in compared(last=last).reasons]
    assert len(said) >= 3
    assert len(said) == len(set(said))


def test_nothing_rewritten_is_still_wrong():
    last = replace(before(), started="2026-11-25T00:00:00Z", depth="thorough")
    view = compared(last=last)
    assert view.outcome == "not yet"
    assert view.settled
    assert view.sentence.endswith("Not as claimed. Not yet honest.")
    assert all(one.wrong for one in view.reasons)
    states = {(row.title, row.by): row.became for row in view.rows}
    assert states["Model", "NVML, OpenCL"] == "still wrong"
    assert states["Memory that answers", ""] == "still wrong"


def test_the_listing_after_the_repair_does_not_count():
    last = replace(after(), claims=(LISTING, *after().claims))
    view = compared(last=last)
    assert view.outcome == "honest now"
    assert any("still carries a listing" in one for one in view.remarks)
    (sold,) = (row for row in view.rows if row.title == "Sold as")
    assert sold.became == "still wrong"
    assert not sold.decides


def test_another_chip_is_never_honest_now():
    view = compared(last=replace(practised("as-claimed"), started="2026-11-25"))
    assert view.outcome == "not yet"
    assert view.same_card == "differs"
    assert view.sentence == (
        "These two records tell of different chips: a GK107 before, a GP104 after. "
        "Nothing can be compared."
    )
    assert view.reasons[0].sentence.startswith("These two records tell of different")
    assert view.uses == ()
    thorough = replace(practised("as-claimed"), depth="thorough", started="2026-11-25")
    assert not compared(last=thorough).settled


def test_other_units_are_another_chip():
    table = shipped()
    row = made_records.one(table, "GeForce GTX 1080")
    other = made_records.one(table, "GeForce GTX 1070")
    view = compared(
        genuine(row, table, listed=False),
        replace(genuine(other, table, listed=False), started="2026-11-26"),
    )
    assert view.same_card == "differs"


def test_the_chips_own_number_tells_cards_apart():
    first = with_claims(before(), ("nvml",), chip_id="0e7")
    last = with_claims(after(), ("nvml",), chip_id="134")
    assert compared(first, last).same_card == "differs"
    last = with_claims(after(), ("nvml",), chip_id="E7")
    assert compared(first, last).same_card == "fits"


def test_little_measured_before_forbids_nothing():
    first = replace(before(), structure=None, rates=(), capacity=None)
    view = compared(first)
    assert (view.same_card, view.outcome) == ("unknown", "honest now")
    assert any("could not be measured" in one for one in view.remarks)


def test_one_record_twice():
    view = compared(after(), after())
    assert (view.outcome, view.settled) == ("not yet", False)
    assert [one.sentence for one in view.reasons] == ["Both are the same record."]
    assert {row.became for row in view.rows} == {"unchanged"}


def test_swapped():
    view = compared(after(), before())
    assert view.outcome == "not yet"
    assert any("older" in one.sentence for one in view.reasons)
    assert any("swapped" in one for one in view.remarks)
    states = {(row.title, row.by): row.became for row in view.rows}
    assert states["Model", "NVML, OpenCL"] == "got worse"


def test_honest_before_as_well():
    first = replace(after(), started="2026-11-01T00:00:00Z")
    view = compared(first)
    assert view.outcome == "honest now"
    assert view.sentence.endswith("Honest now, as it was before.")
    assert any("right before the repair, too" in one for one in view.remarks)


def test_a_test_before_that_was_cut_off_is_told():
    view = compared(replace(before(), incidents=(incident(),)))
    assert view.outcome == "honest now"
    assert any("did not come to its end" in one for one in view.remarks)


@pytest.mark.parametrize(
    ("proven", "became", "said"),
    [
        (GIB, "better", "Memory was added"),
        (4 * GIB, "got worse", "It reports less than answered before"),
    ],
)
def test_other_memory_may_be_another_card(proven, became, said):
    first = replace(after(), started="2026-11-01")
    claimed = proven * 64 // 63
    first = with_claims(first, memory_bytes=claimed)
    first = with_capacity(
        first, claimed_bytes=claimed, covered_bytes=proven, proven_bytes=proven
    )
    view = compared(first)
    (row,) = (row for row in view.rows if row.title == "Memory that answers")
    assert row.became == became
    assert row.note.startswith(said)


def test_less_than_answered_before_is_told():
    """A firmware that leaves half of the memory unused, or memory taken out."""
    held = GIB * 63 // 64 // 16 * 16
    passes = tuple(
        replace(one, counts=CellCounts(cells=held // 16, intact=held // 16))
        if one.counts
        else one
        for one in after().capacity.passes
    )
    last = with_capacity(
        with_claims(after(), ("nvml", "opencl"), memory_bytes=GIB),
        claimed_bytes=GIB, free_bytes=held, covered_bytes=held, proven_bytes=held,
        passes=passes, blocks=(),
    )  # fmt: skip
    view = compared(last=last)
    assert view.outcome == "honest now"
    assert view.sentence.endswith(
        "Honest now, but with less memory than answered before."
    )
    (row,) = (row for row in view.rows if row.title == "Memory that answers")
    assert (row.became, row.decides) == ("got worse", False)
    assert "less than answered before" in row.note


@pytest.mark.parametrize("condition", ["spilled", "crashing-driver"])
def test_memory_that_only_reports_otherwise_is_not_as_it_was(condition):
    """As much answers as before; of 8 GiB then, of 2 GiB now."""
    first = replace(practised(condition), started="2026-11-20")
    (row,) = (row for row in compared(first).rows if row.title == "Memory that answers")
    assert row.became in ("changed", "became honest")
    assert "8.00 GiB" in row.before
    assert "2.00 GiB" in row.after


def test_what_a_driver_refused_is_not_called_lost():
    """Why it gave no more is not known: nothing says that less of it works."""
    first = replace(practised("as-claimed"), started="2026-11-20")
    last = replace(practised("refused"), started="2026-11-25")
    (row,) = (
        row for row in compared(first, last).rows if row.title == "Memory that answers"
    )
    assert row.became == "changed"
    assert row.note == "The test after the repair did not go as far."


def test_a_seller_who_writes_gb_means_gib():
    listing = replace(LISTING, memory_bytes=8 * 10**9)
    view = compared(replace(before(), claims=(listing, *before().claims[1:])))
    assert view.sentence.startswith(
        "It was sold as a GeForce GTX 1070 with 8.00 GiB, and called itself so."
    )


@pytest.mark.parametrize(
    "sold",
    ["a GeForce 8800 GT", "an 8500 GT", "an RX 580", "a RADEON RX 580", "an MSI GTX",
     "a SAPPHIRE RX 580", "an NVIDIA RTX A2000", "an L4", "a 1070", "an Arc A770"],
)  # fmt: skip
def test_the_first_sentence_reads_well(sold):
    listing = replace(LISTING, model=sold.partition(" ")[2])
    view = compared(replace(before(), claims=(listing, *before().claims[1:])))
    assert view.sentence.startswith(f"It was sold as {sold} with 8.00 GiB. Now it ")


def test_a_stand_ins_word_is_not_held_against_the_makers_driver():
    view = compared(last=standing_in(after()))
    assert view.outcome == "honest now"
    states = {(row.title, row.by): row.became for row in view.rows}
    assert states["Model", "NVML, OpenCL"] == "became honest"
    assert states["Model", "OpenCL, not the maker's driver"] == "only after"


def test_a_card_that_could_not_be_tested_before():
    """The usual case: no driver would run it."""
    first = replace(
        before(), capacity=None, rates=(), structure=None, phases=(), depth="quick"
    )
    view = compared(first)
    assert view.outcome == "honest now"
    assert any("was not tested before the repair" in one for one in view.remarks)
    assert not any("different depths" in one for one in view.remarks)


def test_a_power_limit_that_changed_is_told():
    first = replace(
        before(), telemetry=replace(before().telemetry, power_limit_w=151.0)
    )
    last = replace(after(), telemetry=replace(after().telemetry, power_limit_w=64.0))
    (row,) = (r for r in compared(first, last).rows if r.title == "Power limit")
    assert (row.before, row.after, row.became) == ("151 W", "64.0 W", "changed")


def test_a_time_that_is_none():
    view = compared(last=replace(after(), started="yesterday"))
    assert view.outcome == "honest now"
    assert any("does not say when" in one for one in view.remarks)


def test_got_worse_to_faulty():
    first = replace(after(), started="2026-11-01T00:00:00Z")
    view = compared(first, with_counts(after(), failing=5))
    assert view.settled
    states = {row.title: row.became for row in view.rows}
    assert states["Cells that fail"] == "got worse"
    assert view.sentence.endswith("Faulty. Not yet honest.")


# --------------------------------------------------------------- rows added by hand


def by_added_row(tmp_path, model):
    path = tmp_path / "more.toml"
    path.write_text(ROW.format(model), encoding="utf-8")
    last = with_claims(after(), ("nvml", "opencl"), model=model)
    return compare(before(), last, tables.load(path), shipped=shipped())


def test_added_rows_never_make_honest_what_the_table_knows_to_be_false(tmp_path):
    view = by_added_row(tmp_path, "GeForce GTX 1070")
    assert (view.outcome, view.settled) == ("not yet", True)
    (reason,) = view.reasons
    assert reason.sentence.startswith("Only rows that were added to the table by hand")
    assert reason.sentence.endswith("Not as claimed.")


def test_a_model_that_only_an_added_row_names_is_said_to_be_that(tmp_path):
    view = by_added_row(tmp_path, "GeForce GTX 651")
    assert view.outcome == "honest now"
    assert view.added_rows
    assert view.sentence.endswith(
        "Honest now, by figures that were added to the table by hand."
    )
    assert any("added rows" in one for one in view.remarks)


# ---------------------------------------------------------------------- stability


def test_stable():
    view = compared().stability
    assert view.state == "stable"
    assert view.sentence.startswith("Stable for 2 min under full load, at up to ")


@pytest.mark.parametrize(
    ("change", "state"),
    [
        (lambda r: replace(r, soak=None), "not tested"),
        (lambda r: with_soak(r, wrong=1), "failed"),
        (lambda r: with_soak(r, stopped_by="too hot"), "cut short"),
        (lambda r: with_soak(r, seconds=20.0), "cut short"),
        (lambda r: with_soak(r, checked=0), "not tested"),
    ],
)
def test_other_endings_of_a_soak(change, state):
    view = compared(last=change(after()))
    assert view.stability.state == state
    assert view.stability.step


def test_without_a_soak_it_may_still_be_honest():
    """The report is honest or not; whether the card lasts is another question."""
    assert compared(last=replace(after(), soak=None)).outcome == "honest now"


def test_the_hottest_moment_is_told():
    points = tuple(SoakPoint(at_seconds=t, temperature_c=50.0 + t) for t in (1.0, 9.0))
    view = compared(last=with_soak(after(), series=points))
    assert view.stability.hottest_c == 59.0


# -------------------------------------------------------------------------- rates


def scaled(record, share, **only):
    """The record with rates times `share`, all or those named."""
    names = only.get("names")
    return replace(
        record,
        rates=tuple(
            replace(rate, value=rate.value * share)
            if rate.value and (names is None or rate.name in names)
            else rate
            for rate in record.rates
        ),
    )


def states_of(view, part="rates"):
    return {row.title: row.became for row in view.rows if row.part == part}


@pytest.mark.parametrize("share", [0.96, 0.99, 1.0, 1.01, 1.04])
def test_noise_is_no_change(share):
    assert set(states_of(compared(last=scaled(after(), share))).values()) == {
        "unchanged"
    }


def test_clearly_slower_is_worse_and_faster_better():
    first = replace(after(), started="2026-11-01")
    slower = states_of(compared(first, scaled(after(), 0.8, names={"fp32"})))
    assert slower["Single precision (fp32)"] == "got worse"
    assert slower["Memory, reading"] == "unchanged"
    faster = states_of(compared(first, scaled(after(), 1.3, names={"memory_read"})))
    assert faster["Memory, reading"] == "better"


def test_a_wide_spread_widens_the_band():
    def spread(record):
        return replace(
            record,
            rates=tuple(
                replace(rate, sample_seconds=(1.0, 1.04, 1.08)) for rate in record.rates
            ),
        )

    first = spread(replace(after(), started="2026-11-01"))
    states = states_of(compared(first, scaled(spread(after()), 0.9)))
    assert states["Single precision (fp32)"] == "unchanged"


def test_heat_is_not_called_worse():
    first = replace(after(), started="2026-11-01")
    samples = tuple(
        replace(one, throttle=("thermal",), core_mhz=800.0)
        for one in after().telemetry.samples
    )
    hot = replace(after(), telemetry=replace(after().telemetry, samples=samples))
    rows = compared(first, scaled(hot, 0.75, names={"fp32"})).rows
    (row,) = (row for row in rows if row.title.startswith("Single"))
    assert row.became == "changed"
    assert "slowed itself (thermal)" in row.note


def test_a_lower_clock_is_told_as_that():
    """An honest firmware may set a lower clock: nothing got worse."""
    first = replace(after(), started="2026-11-01")
    samples = tuple(
        replace(one, core_mhz=one.core_mhz * 0.9) for one in after().telemetry.samples
    )
    slow = replace(after(), telemetry=replace(after().telemetry, samples=samples))
    rows = compared(first, scaled(slow, 0.9, names={"fp32"})).rows
    (row,) = (row for row in rows if row.title.startswith("Single"))
    assert row.became == "changed"
    assert row.note == "Its core ran at 1058 MHz, now at 952."


def test_what_a_driver_keeps_explains_no_slowness():
    """32 MiB kept are more of 2 GiB than of 8; nobody else used the card."""
    rows = compared(last=scaled(after(), 0.8, names={"fp32"})).rows
    (row,) = (row for row in rows if row.title.startswith("Single"))
    assert row.became == "got worse"
    assert row.note == "By 20.0 %, and nothing that was read says why."


def test_the_link_is_the_slots():
    first = replace(after(), started="2026-11-01")
    view = compared(first, scaled(after(), 0.5, names={"link_up"}))
    (row,) = (row for row in view.rows if row.title == "Link, PC to card")
    assert (row.became, row.note) == (
        "changed",
        "Another slot, or another PC, is enough.",
    )


def test_a_rate_that_only_one_has():
    gone = tuple(
        replace(rate, value=None, missing="no such thing")
        if rate.name == "fp64"
        else rate
        for rate in after().rates
    )
    view = compared(last=replace(after(), rates=gone))
    (row,) = (row for row in view.rows if row.title.startswith("Double"))
    assert (row.became, row.note) == ("only before", "no such thing")


# ------------------------------------------------------------------ any records


def test_any_two_samples_can_be_compared():
    records = [make() for make in EVERY.values()]
    for first, last in pairwise([*records, *records[::-1]]):
        view = compared(first, last)
        assert view.sentence
        assert view.outcome == "not yet"  # none of them is of a thorough test


@settings(max_examples=10, phases=(hypothesis.Phase.generate,))
@given(records(), records())
def test_it_never_raises(first, last):
    view = compared(first, last)
    assert msgspec.json.decode(encode_compared(view), type=Compared) == view
    assert bool(view.reasons) == (view.outcome == "not yet")


def test_a_genuine_card_of_every_architecture_is_honest_after_a_thorough_test():
    """The worst error: to call a genuine card dishonest. Rows by `made_records`."""
    table = shipped()
    seen = {}
    for row in table.variants:
        seen.setdefault(row.architecture, row)
    for row in seen.values():
        first = genuine(row, table, listed=False)
        last = with_capacity(first, passes=first.capacity.passes * 3)
        last = replace(last, depth="thorough", started="2026-11-28T12:00:00Z")
        view = compared(first, last)
        wrong = [one for one in view.reasons if one.wrong]
        assert wrong == [], row.id
        bad = {"still wrong", "got worse"}
        assert not [r for r in view.rows if r.became in bad], row.id
        own = view.after.own_verdict.outcome
        assert (view.outcome == "honest now") == (own == "as claimed"), row.id
