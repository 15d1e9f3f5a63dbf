import dataclasses

import pytest
import samples
from hypothesis import given
from msgspec.structs import replace
from record_strategies import HOSTILE, records, with_every_text

from reports.method import method_of
from reports.record import CacheLevel, Structure
from reports.summary import rule_title, summarise, when
from reports.text import plain


def texts_of(value):
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for one in value:
            yield from texts_of(one)
    elif dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from texts_of(getattr(value, field.name))


def test_deciding_rows_stand_first():
    rows = summarise(samples.mirrored_1070()).rows
    assert [(row.title, row.decides, row.against) for row in rows] == [
        ("Memory size", True, True),
        ("Compute units", True, True),
        ("PCI id", True, True),
        ("Memory bandwidth", False, True),
        ("fp16 rate", False, False),
    ]


def test_a_fault_decides_a_faulty_card():
    rows = summarise(samples.failing()).rows
    assert [(row.title, row.mark, row.decides) for row in rows] == [
        ("Working memory", "!", True),
        ("Compute units", "=", False),
    ]


def test_what_is_open_decides_an_undetermined_card():
    rows = summarise(samples.spilled()).rows
    assert [(row.title, row.mark, row.decides) for row in rows] == [
        ("Memory size", "?", True),
        ("Compute units", "=", False),
    ]


def test_a_text_that_the_ledger_gives_is_not_said_twice():
    summary = summarise(samples.mirrored_1070())
    assert len(summary.unchecked) == 2
    assert summary.more_unchecked == (
        "The listing's clock was not given, so it was not compared.",
    )


def test_spread_and_place_of_a_rate():
    rates = {row.title: row for row in summarise(samples.mirrored_1070()).rates}
    row = rates["Single precision (fp32)"]
    assert row.low < row.value < row.high
    assert row.high / row.low == pytest.approx(1.04, rel=0.01)
    assert row.genuine_text == "4.80 to 7.40 TFLOP/s"
    assert row.outside == "below that range"
    assert rates["Half precision (fp16)"].text == (
        "the driver does not offer half precision"
    )


def test_wrong_results_are_remarked_on():
    base = samples.genuine_h100()
    rates = (replace(base.rates[0], wrong=3), *base.rates[1:])
    summary = summarise(replace(base, rates=rates))
    assert summary.rates[0].remark == "3 of 1,048,576 results were wrong"
    assert "bit for bit: 3 were wrong." in summary.method[4]


def test_no_verdict_is_said_to_be_none():
    assert summarise(samples.interrupted()).sentence == (
        "No verdict: the test was stopped before its end."
    )
    assert summarise(samples.minimal()).sentence == (
        "No verdict: the findings were not judged."
    )


def test_practice_says_so():
    assert summarise(samples.practice("hollow")).practice == (
        "Practice run: no real card was tested. Simulated: hollow."
    )
    unnamed = replace(samples.practice(), practice_condition=None)
    assert summarise(unnamed).practice == ("Practice run: no real card was tested.")
    assert summarise(samples.genuine_h100()).practice is None


@pytest.mark.parametrize("make", samples.EVERY.values(), ids=samples.EVERY)
def test_the_method_always_takes_six_lines(make):
    assert len(summarise(make()).method) == 6


@pytest.mark.parametrize(
    ("rule", "title"),
    [
        ("memory-size", "Memory size"),
        ("pci-id", "PCI id"),
        ("fp32-rate", "fp32 rate"),
        ("transcendental-rate", "Powers of two rate"),
        ("", "Unnamed"),
    ],
)
def test_titles_of_rules(rule, title):
    assert rule_title(rule) == title


@pytest.mark.parametrize(
    ("started", "shown"),
    [
        # ISO 8601 in, and what is not comes out as it stands.
        ("2026-11-25T19:33:00+00:00", "25 November 2026, 19:33 UTC"),
        ("2026-11-05T07:03:00Z", "5 November 2026, 07:03 UTC"),
        ("2026-11-25T19:33:00+02:00", "2026-11-25T19:33:00+02:00"),
        ("yesterday\n", "yesterday"),
    ],
)
def test_times(started, shown):
    assert when(started) == shown


@pytest.mark.parametrize("text", HOSTILE)
@pytest.mark.parametrize("make", samples.EVERY.values(), ids=samples.EVERY)
def test_no_text_reaches_a_rendering_unclean(make, text):
    for shown in texts_of(summarise(with_every_text(make(), text))):
        assert shown == plain(shown, 10_000)


@given(records())
def test_any_record_has_a_summary(record):
    for shown in texts_of(summarise(record)):
        assert shown == plain(shown, 10_000)


def test_rows_that_only_agree_come_last():
    base = samples.mirrored_1070()
    agreeing = samples.genuine_h100().findings[2]
    rows = summarise(replace(base, findings=(agreeing, *base.findings))).rows
    assert [(row.title, row.minor) for row in rows][-2:] == [
        ("fp16 rate", False),
        ("fp32 rate", True),
    ]


def test_a_source_is_listed_once_and_cited_by_its_place():
    base = samples.mirrored_1070()
    cited = ("B", "A"), ("A", "C\n", "A"), (), ("D", "A", "B", "F", "C")
    findings = tuple(replace(base.findings[0], sources=one) for one in cited)
    summary = summarise(replace(base, findings=findings))
    assert summary.sources == ("B", "A", "C", "D", "F")
    numbers = ["1, 2", "2, 3", "", "1 to 5"]
    assert [row.sources for row in summary.rows] == numbers


@pytest.mark.parametrize(
    ("claim", "shown"),
    [
        ("a GeForce GTX 1070", "by its model"),
        ("GeForce GTX 1070", "GeForce GTX 1070"),
        ("", "not said"),
    ],
)
def test_a_claim_of_nothing_but_the_model_is_not_repeated(claim, shown):
    base = samples.mirrored_1070()
    assert base.genuine.model == "GeForce GTX 1070"
    finding = replace(base.findings[0], claim=claim)
    (row,) = summarise(replace(base, findings=(finding,))).rows
    assert row.claimed == shown


@pytest.mark.parametrize(
    ("bearing", "shown"), [("contradicts", "by its model"), ("agrees", "79.6 GiB")]
)
def test_what_the_card_says_against_its_own_model_is_not_the_claim(bearing, shown):
    base = samples.mirrored_1070()
    finding = replace(
        base.findings[0], claim="79.6 GiB", measured="79.6 GiB", bearing=bearing
    )
    (row,) = summarise(replace(base, findings=(finding,))).rows
    assert (row.claimed, row.found) == (shown, "79.6 GiB")


def test_reasons_stop_where_the_ledger_takes_over():
    base = samples.mirrored_1070()
    known = base.findings[0].sentence
    reasons = ("The run broke off.", known, "5 more rates are too low as well.")
    summary = summarise(replace(base, verdict=replace(base.verdict, reasons=reasons)))
    assert summary.reasons == reasons
    assert summary.more_reasons == ("The run broke off.",)


@pytest.mark.parametrize(
    ("built", "words"),
    [
        (None, "none was wrong."),
        (Structure(), "none was wrong."),
        (
            Structure(units=2),
            (
                "The chip itself told of its units, by giving it work until one portion"
                " had to wait."
            ),
        ),
        (
            Structure(units=2, levels=(CacheLevel(hop_ns=300.0),)),
            (
                "one portion had to wait; and of its caches, by how long an answer from"
                " memory takes."
            ),
        ),
    ],
)
def test_six_lines_tell_how_the_test_works(built, words):
    lines = method_of(replace(samples.mirrored_1070(), structure=built))
    assert len(lines) == 6
    assert lines[4].endswith(words)
    assert all(len(line) < 320 for line in lines)
