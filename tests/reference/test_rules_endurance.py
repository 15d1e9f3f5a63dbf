"""What cuts a test off: once is a finding, again at one place is evidence.

The thresholds are ours; no published source says how often drivers crash.
"""

import made_records as made
import pytest
from msgspec.structs import replace
from told_runs import incident

from reference.case import Case
from reference.evidence import evidence
from reference.judge import judge
from reference.rules import endurance
from reports.lasting import IncidentKind
from reports.record import Phase

GIB = made.GIB
MIB = 2**20
OF_THE_CARD = ("crashed", "hung", "lost", "frozen")
NOT_OF_IT = ("killed", "babbled", "ended")


@pytest.fixture
def card(table):
    return made.genuine(made.one(table, "GTX 1070", units=15), table)


def below(size, **more):
    """A proof of what lies below a crash, all of it sound."""
    fields = {
        "share": size / (8 * GIB),
        "free": 8 * GIB,
        "ended_by": "below a crash",
    }
    return made.capacity(8 * GIB, **(fields | more))


def cut(card, *incidents, **more):
    """The card, cut off so, and proven below 2 GiB."""
    return replace(card, incidents=incidents, **({"capacity": below(2 * GIB)} | more))


def findings(table, record, rule):
    return [one for one in judge(record, table).findings if one.rule == rule]


def place(table, record):
    found = findings(table, record, "crash-place")
    return found[0] if found else None


# Once


@pytest.mark.parametrize("kind", IncidentKind.__args__)
@pytest.mark.parametrize("phase", ["write", "fp32", "opening"])
def test_once_is_told_and_moves_no_verdict(table, card, kind, phase):
    at = 2 * GIB if phase == "write" else None
    record = replace(card, incidents=(incident(kind, phase, at_bytes=at),))
    before, after = judge(card, table), judge(record, table)
    assert before.verdict.outcome == after.verdict.outcome == "as claimed"
    (told,) = [one for one in after.findings if one.rule == "cut-off"]
    assert (told.strength, told.bearing) == ("supporting", "open")
    assert place(table, record) is None
    assert told.sentence.startswith("Memory, first pass: writing")
    assert told.sentence.endswith("(its process was ended by SIGSEGV).")


def test_every_kind_has_its_words(table, card):
    kinds = IncidentKind.__args__
    record = replace(card, incidents=tuple(incident(kind) for kind in kinds))
    told = [one.measured for one in findings(table, record, "cut-off")]
    assert len(set(told)) == len(kinds)


def test_many_at_different_places_move_no_verdict(table, card):
    places = (1 * GIB, 3 * GIB, 5 * GIB, 7 * GIB)
    record = replace(card, incidents=tuple(incident(at_bytes=at) for at in places))
    assert judge(record, table).verdict.outcome == "as claimed"


# Again at one place


@pytest.mark.parametrize("kind", OF_THE_CARD)
def test_again_at_one_place_all_below_it_sound(table, card, kind):
    record = cut(card, incident(kind), incident(kind))
    found = place(table, record)
    assert (found.strength, found.bearing) == ("strong", "contradicts")
    assert found.claim == "8.00 GiB"
    assert found.measured == "cut off at 2.00 GiB of 8.00 GiB"
    assert found.sentence == (
        "The test was cut off 2 times when memory above 2.00 GiB was used, while all "
        "2.00 GiB below it kept their data."
    )
    verdict = judge(record, table).verdict
    assert verdict.outcome == "undetermined"  # strong, not decisive
    assert "cut off at 2.00 GiB of 8.00 GiB each time" in verdict.sentence
    assert found.sentence in verdict.reasons


def test_different_ways_at_one_place_count_together(table, card):
    ways = (incident("crashed"), incident("hung", "verify"), incident("lost", "turn"))
    assert "cut off 3 times" in place(table, cut(card, *ways)).sentence


@pytest.mark.parametrize("kind", NOT_OF_IT)
def test_who_ends_a_program_is_not_the_card(table, card, kind):
    assert place(table, cut(card, incident(kind), incident(kind))) is None
    assert place(table, cut(card, incident(kind), incident("crashed"))) is None
    beside = cut(card, incident(kind), incident("crashed"), incident("crashed"))
    assert "2 times" in place(table, beside).sentence


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        (2 * GIB, 2 * GIB, True),
        (2 * GIB, 2 * GIB + 128 * MIB, True),
        (2 * GIB, 2 * GIB + 128 * MIB + 1, False),
        (2 * GIB, 5 * GIB, False),
        (2 * GIB, None, False),
        (None, None, False),
    ],
)
def test_one_place_is_as_wide_as_a_block(table, card, one, other, same):
    record = cut(card, incident(at_bytes=one), incident(at_bytes=other))
    assert (place(table, record) is not None) == same


@pytest.mark.parametrize("phase", ["fp32", "soak", "structure", "link", "opening"])
def test_what_does_not_use_its_memory_tells_nothing_of_it(table, card, phase):
    assert place(table, cut(card, incident(phase=phase), incident(phase=phase))) is None


@pytest.mark.parametrize(
    "ending", ["whole claim held", "driver refused", "limit asked for", "host memory"]
)
def test_without_a_proof_below_it_nothing_is_said(table, card, ending):
    twice = (incident(), incident())
    record = cut(card, *twice, capacity=below(2 * GIB, ended_by=ending))
    assert place(table, record) is None
    assert place(table, cut(card, *twice, capacity=None)) is None


def test_a_card_that_breaks_below_it_as_well_tells_nothing(table, card):
    """Its memory does not end there: it is broken, or its driver is."""
    twice = (incident(), incident())
    wrong = below(2 * GIB, real=GIB, beyond="failing")
    assert place(table, cut(card, *twice, capacity=wrong)) is None
    little = below(2 * GIB, real=int(1.9 * GIB), beyond="scrambled")
    assert place(table, cut(card, *twice, capacity=little)) is None


def test_a_proof_that_broke_off_below_it_tells_nothing(table, card):
    torn = Phase(name="verify", outcome="failed", started_seconds=1.0, seconds=1.0)
    record = cut(card, incident(), incident(), phases=(torn,))
    assert judge(record, table).verdict.outcome == "undetermined"


@pytest.mark.parametrize(
    ("free", "bearing"),
    [
        (8 * GIB, "contradicts"),
        (3 * GIB, "contradicts"),
        (int(2.1 * GIB), "open"),
        (2 * GIB, "open"),
        (None, "contradicts"),
    ],
)
def test_other_programs_that_hold_the_rest_explain_it(table, card, free, bearing):
    """What the driver had free ends where it crashed: others held what lies above."""
    proof = replace(below(2 * GIB), free_bytes=free)
    found = place(table, cut(card, incident(), incident(), capacity=proof))
    assert (found.strength, found.bearing) == ("strong", bearing)
    said = "Other programs held memory; that may be the cause."
    assert (said in found.sentence) == (bearing == "open")


def test_it_never_alone_accuses(table, card):
    """However often it comes again."""
    for times in (2, 3, 7):
        record = cut(card, *[incident()] * times)
        assert judge(record, table).verdict.outcome == "undetermined"
    assert endurance.repeated_at(Case(card, table)) is None


def test_what_was_mirrored_below_it_decides(table, card):
    """A crash takes nothing from what was proven."""
    fake = made.capacity(8 * GIB, real=2 * GIB, share=0.5, ended_by="below a crash")
    record = cut(card, *[incident(at_bytes=4 * GIB)] * 2, capacity=fake)
    assert judge(record, table).verdict.outcome == "not as claimed"


def test_words_of_a_driver_are_cut_short(table, card):
    long = incident(doing="x" * 4096, detail="y" * 4096)
    (told,) = findings(table, replace(card, incidents=(long,)), "cut-off")
    assert len(told.sentence) < 700


def test_only_a_crash_that_comes_again_says_where_memory_ends(table, card):
    """Of a proof that stays below one crash nobody knows where the memory ends."""
    once = Case(cut(card, incident("frozen")), table)
    twice = Case(cut(card, incident(), incident()), table)
    assert (evidence(once).whole, evidence(twice).whole) == (False, True)
