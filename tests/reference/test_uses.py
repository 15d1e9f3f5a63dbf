"""What a card is good for: boundaries, more never less, nothing guessed."""

from pathlib import Path

import made_records
import pytest
import record_strategies
import samples
from hypothesis import given, settings
from msgspec.structs import replace

from reference.judge import judge
from reference.table import load
from reference.use_drivers import SUPPORT, renders
from reference.use_needs import WORKS
from reference.use_sources import SOURCES
from reference.uses import uses_of
from reports import codec
from reports.inspection import Inspection
from reports.layers import Layers
from reports.record import Capacity, Rate
from reports.uses import view_of

GOLDEN = Path(__file__).parents[1] / "data" / "golden" / "h100-sxm.json"
RANK = {"no": 0, "not measured": 1, "with limits": 2, "yes": 3}
UNITS = {"memory_read": "B/s", "fp32": "FLOP/s", "fp64": "FLOP/s", "link_up": "B/s"}
PLENTY = 2**50
TABLE = load()
LEVELS = [(work, level) for work in WORKS for level in work.levels]
SHOWN = {work.name for work in WORKS if work.shown}
SEEN = Inspection(outputs=("HDMI",))


def answers(record, table=TABLE):
    return {one.name: one.answer for one in uses_of(record, table)}


def reasons(record, table=TABLE):
    return {one.name: one.because for one in uses_of(record, table)}


def measured(proven=PLENTY, claimed=None, covered=None, **rates):
    """A record of an unknown card with sockets: all ample, save what is given."""
    values = dict.fromkeys(UNITS, 1e20) | rates
    return replace(
        samples.minimal(),
        card=replace(samples.minimal().card, kind="gpu"),
        inspection=SEEN,
        capacity=Capacity(
            claimed_bytes=proven if claimed is None else claimed,
            covered_bytes=proven if covered is None else covered,
            proven_bytes=proven,
            ended_by="driver refused",
            nonce="1",
        ),
        rates=tuple(
            Rate(name=name, unit=UNITS[name], value=value)
            for name, value in values.items()
        ),
    )


def with_level(of, value):
    if of == "memory":
        return measured(proven=int(value))
    return measured(**{of: float(value)})


@pytest.fixture(scope="module")
def h100():
    return codec.load(GOLDEN)


@pytest.fixture(scope="module")
def gtx_650():
    row = made_records.one(TABLE, "GeForce GTX 650", chip="GK107", memory_bytes=2**31)
    return judge(made_records.genuine(row, TABLE, listed=False), TABLE)


# --- the cards that are known ---------------------------------------------------------


def test_an_h100_is_good_for_all_that_needs_no_display(h100):
    found = answers(h100)
    assert {name for name in found if found[name] == "no"} == SHOWN
    assert {found[name] for name in found if name not in SHOWN} == {"yes"}
    assert reasons(h100)["desk-hd"] == "It has no socket for a display."
    assert "allows 700 tokens a second at most." in reasons(h100)["text-8-4"]
    assert "Single precision is 1.96 times as fast." in reasons(h100)["double"]
    assert "At most 4.69 billion weights fit." in reasons(h100)["training"]


def test_an_honest_gk107_with_2_gib(gtx_650):
    assert gtx_650.verdict.outcome == "as claimed"
    found = answers(gtx_650)
    limited = ("drawing", "photos", "editing-hd", "scenes")
    assert all(found[name] == "with limits" for name in limited)
    never = ("editing-uhd", "double", "text-8-4", "pictures", "training")
    assert all(found[name] == "no" for name in never)
    assert found["motion-uhd"] == found["drivers"] == "no"
    told = reasons(gtx_650)
    assert told["photos"] == "Scant: 1.94 GiB of proven memory where 3 GB are ample."
    assert "where at least 4.5 GB are needed" in told["text-8-4"]
    assert "R470" in told["drivers"]
    assert "do not compute on its chip" in told["scenes"]


def test_its_desk_is_fine_once_somebody_saw_a_socket(gtx_650):
    seen = replace(gtx_650, inspection=SEEN)
    assert answers(seen)["desk-uhd"] == "yes"
    assert reasons(seen)["desk-uhd"].startswith("Ample: 1.94 GiB of proven memory, ")


@pytest.mark.parametrize("name", ["mirrored_1070", "hollow_1070", "interrupted"])
def test_memory_that_is_not_there_forbids_all(name):
    uses = uses_of(samples.EVERY[name](), TABLE)
    assert {one.answer for one in uses} == {"no"}
    (reason,) = {one.because for one in uses}
    assert reason.startswith("Its firmware reports 8.00 GiB, but only ")
    assert reason.endswith("until it reports what it has.")
    assert view_of(uses).whole == reason


def test_a_crash_beyond_the_real_memory_forbids_all():
    base = samples.mirrored_1070()
    finding = replace(base.findings[0], rule="crash-place", bearing="contradicts")
    proof = replace(
        base.capacity, proven_bytes=2**31, covered_bytes=2**31, passes=(), blocks=()
    )
    record = replace(base, capacity=proof, findings=(finding,))
    assert set(answers(record).values()) == {"no"}
    told = replace(record.verdict, outcome="undetermined")
    unsure = answers(replace(record, verdict=told))
    assert unsure["desk-hd"] == "with limits"
    assert unsure["text-8-4"] == "not measured"


def test_a_faulty_card_is_good_for_nothing_that_matters():
    found = uses_of(samples.failing(), TABLE)
    assert {one.answer for one in found} == {"no"}
    assert all("until it is repaired" in one.because for one in found)


def test_wrong_results_forbid_all_until_that_is_settled():
    base = measured()
    rates = tuple(replace(rate, wrong=1, checked=4096) for rate in base.rates)
    found = uses_of(replace(base, rates=rates))
    assert {one.answer for one in found} == {"no"}
    assert all("wrong results" in one.because for one in found)


def test_nothing_stands_against_a_card_that_is_as_claimed(h100):
    few = replace(h100.capacity.passes[-1].counts, failing=1)
    passes = (replace(h100.capacity.passes[-1], counts=few),)
    record = replace(h100, capacity=replace(h100.capacity, passes=passes))
    assert answers(record) == answers(h100)


# --- boundaries -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("work", "level"), LEVELS, ids=[f"{work.name}-{level.of}" for work, level in LEVELS]
)
def test_each_threshold_is_a_sharp_edge(work, level):
    whole = level.of == "memory"
    full = -int(-level.full // 1) if whole else level.full
    assert (
        RANK[answers(with_level(level.of, full), None)[work.name]]
        >= RANK["with limits" if work.rendered else "yes"]
    )
    below = full - 1 if whole else full * (1 - 1e-12)
    lower = answers(with_level(level.of, below), None)[work.name]
    assert lower == ("no" if level.least == level.full else "with limits")
    if level.least is not None:
        least = -int(-level.least // 1) if whole else level.least
        under = least - 1 if whole else least * (1 - 1e-12)
        assert answers(with_level(level.of, under), None)[work.name] == "no"
        assert answers(with_level(level.of, least), None)[work.name] != "no"


@pytest.mark.parametrize("of", ["memory", *UNITS])
@pytest.mark.parametrize("base", [1.0, 40e9, 1e20])
def test_more_never_turns_an_answer_into_a_lesser(of, base):
    """Every threshold of that figure, just below and just at it, in rising order."""
    edges = {
        edge
        for _, level in LEVELS
        for edge in (level.full, level.least)
        if level.of == of and edge
    }
    points = sorted({1, *(int(e) - 1 for e in edges), *(int(e) + 1 for e in edges)})
    others = dict.fromkeys((name for name in UNITS if name != of), base)
    for spare in (0, 2**40):
        before = None
        for point in points:
            size = point if of == "memory" else max(int(base), 1)
            rates = others if of == "memory" else others | {of: float(point)}
            found = answers(measured(size, claimed=size + spare, **rates), None)
            if before:
                assert all(RANK[found[one]] >= RANK[before[one]] for one in found)
            before = found


# --- what was not measured ------------------------------------------------------------


def test_without_figures_nothing_is_answered():
    bare = replace(measured(), capacity=None, rates=())
    uses = uses_of(bare)
    assert {one.answer for one in uses} == {"not measured"}
    assert all(one.because.startswith("Not measured: ") for one in uses)


def test_a_missing_rate_leaves_open_what_needs_it_and_nothing_else():
    base = measured()
    rates = tuple(
        replace(rate, value=None, missing="no fp64") if rate.name == "fp64" else rate
        for rate in base.rates
    )
    found = answers(replace(base, rates=rates))
    assert [name for name in found if found[name] == "not measured"] == ["double"]


def test_too_little_memory_is_a_no_whatever_else_was_not_measured():
    base = replace(measured(proven=2**30), rates=())
    assert answers(base)["motion-uhd"] == "no"
    assert answers(base)["motion-hd"] == "no"
    assert answers(base)["desk-hd"] == "not measured"


def test_memory_that_was_not_tested_may_still_be_there():
    busy = measured(proven=3 * 2**30, claimed=8 * 2**30)
    assert answers(busy)["text-8-4"] == "not measured"
    assert answers(busy)["text-8-16"] == "no"
    assert "beyond the 3.00 GiB that are proven" in reasons(busy)["text-8-4"]
    spilled = replace(busy.capacity, covered_bytes=2**33, spilled_bytes=5 * 2**30)
    assert answers(replace(busy, capacity=spilled))["text-8-4"] == "not measured"


def test_a_processor_is_not_answered_for():
    base = measured()
    uses = uses_of(replace(base, card=replace(base.card, kind="cpu")))
    assert {one.answer for one in uses} == {"not measured"}
    assert "no graphics card" in uses[0].because


def test_memory_shared_with_the_pc_is_a_limit():
    base = measured()
    record = replace(base, card=replace(base.card, unified_memory=True))
    found = answers(record)
    assert found["photos"] == "with limits"
    assert found["double"] == "yes"
    assert "the PC's own" in reasons(record)["photos"]


# --- sockets --------------------------------------------------------------------------


def test_sockets_count_where_somebody_or_the_driver_saw_them():
    base = replace(measured(), inspection=None)
    unknown = {name for name, got in answers(base).items() if got == "with limits"}
    assert unknown == SHOWN | {"scenes"}
    assert "which nobody looked at" in reasons(base)["desk-hd"]
    listed = replace(base, card=replace(base.card, layers=Layers(outputs=("DP-1",))))
    driving = replace(base, card=replace(base.card, drives_display=True))
    none = replace(listed, inspection=Inspection(outputs=()))
    assert answers(listed)["desk-hd"] == answers(driving)["desk-hd"] == "yes"
    assert answers(none)["desk-hd"] == answers(none)["motion-hd"] == "no"


def test_a_model_that_is_only_suspected_takes_no_socket_away(h100):
    unsure = replace(h100, verdict=replace(h100.verdict, outcome="undetermined"))
    assert answers(unsure)["desk-hd"] == "with limits"


@pytest.mark.parametrize(
    ("model", "gib", "answer"),
    [("GeForce GTX 1070", 8, "yes"), ("GeForce RTX 3060", 12, "yes"),
     ("Tesla K80", 12, "no"), ("P106-100", 6, "no")],
)  # fmt: skip
def test_a_model_as_claimed_tells_of_its_sockets(model, gib, answer):
    """A row for a desktop that names no socket is of a card with some."""
    row = next(
        one for one in TABLE.variants
        if one.model == model and one.memory_bytes == gib * 2**30
    )  # fmt: skip
    record = judge(made_records.genuine(row, TABLE, listed=False), TABLE)
    assert record.verdict.outcome == "as claimed"
    assert answers(record)["desk-hd"] == answer


def test_what_its_sockets_carry_is_not_promised():
    told = reasons(measured())
    wide = {name for name, said in told.items() if "was not tested" in said}
    assert wide == {"desk-uhd", "video-shown", "motion-uhd"}


# --- kinds of chip --------------------------------------------------------------------


def test_support_is_told_by_architectures_that_the_table_has():
    assert set(SUPPORT) <= set(TABLE.architectures)
    nvidia = {k for k, one in TABLE.architectures.items() if one.vendor == "NVIDIA"}
    assert nvidia <= set(SUPPORT)


@pytest.mark.parametrize(
    ("chip", "takes"),
    [("GK107", False), ("GK110", False), ("GM107", True), ("GP104", True),
     ("GH100", True), ("Ellesmere", False), ("Navi 10", True)],
)  # fmt: skip
def test_which_chips_the_renderer_takes(chip, takes):
    """Blender manual, Cycles, GPU rendering: compute capability 5.0, RDNA 1."""
    name = next(k for k, one in TABLE.chips.items() if chip in (k, *one.names))
    found = TABLE.chips[name]
    assert renders(found, TABLE.architectures[found.architecture]) is takes


def test_what_no_source_tells_of_drivers_is_left_out(gtx_650):
    assert "drivers" not in answers(gtx_650, None)
    chips = (replace(gtx_650.identified.chips[0], chip="Ellesmere", twins=()),)
    other = replace(gtx_650, identified=replace(gtx_650.identified, chips=chips))
    assert "drivers" not in answers(other)
    doubted = (replace(gtx_650.identified.chips[0], probability=0.6),)
    unsure = replace(
        gtx_650,
        verdict=None,
        identified=replace(gtx_650.identified, chips=doubted),
    )
    assert "drivers" not in answers(unsure)


# --- texts ----------------------------------------------------------------------------


def test_no_product_is_named_where_work_is_told(h100, gtx_650):
    makers = ("Adobe", "Autodesk", "Blender", "darktable", "Xbox", "PlayStation")
    for one in (*uses_of(h100, TABLE), *uses_of(gtx_650, TABLE)):
        told = f"{one.title} {one.because} {one.needs}"
        assert not any(maker in told for maker in makers)


def test_every_kind_of_work_says_what_it_takes_and_names_known_sources():
    assert len({work.name for work in WORKS}) == len(WORKS)
    for work in WORKS:
        assert work.needs.endswith(".")
        assert work.sources or work.needs.startswith("Counted: ")
        assert set(work.sources) <= set(SOURCES)
        for level in work.levels:
            assert level.least is None or 0 < level.least <= level.full
    used = {key for work in WORKS for key in work.sources}
    assert used == set(SOURCES)


@pytest.mark.parametrize("text", record_strategies.HOSTILE)
def test_nothing_that_a_card_says_gets_into_a_text(text, gtx_650):
    hostile = record_strategies.with_every_text(gtx_650, text)
    told = uses_of(hostile, TABLE)
    safe = uses_of(replace(gtx_650, identified=None, genuine=None), TABLE)
    assert told == safe


@settings(max_examples=25)
@given(record_strategies.records())
def test_any_record_gets_an_answer_to_everything(record):
    uses = uses_of(record, TABLE)
    assert uses == uses_of(record, TABLE)
    assert [one.name for one in uses][: len(WORKS)] == [work.name for work in WORKS]
    assert all(one.because.endswith(".") for one in uses)
