"""Languages: complete, alike in what they are filled in with, true to the judge.

Typography: German quotation marks as DIN 5008 has them, Spanish ones as the RAE's
orthography (2010); decimal commas by both. From memory.
"""

import dataclasses
import html
import re
from collections.abc import Mapping
from string import Formatter

import evidence_parts as parts
import pytest

from probe.options import parse
from reference import judge
from reports.evidence import wording as keys
from reports.evidence.errors import EvidenceError
from reports.evidence.findings import paragraphs, told_of
from reports.evidence.languages import LANGUAGES, wording
from reports.evidence.speech import day, number, said
from reports.evidence.verdict import verdict
from reports.summary import summarise
from reports.text import tied

OTHERS = [one for one in LANGUAGES if one != "en"]
CONDITIONS = ("mirrored", "hollow", "spilled", "unstable", "scrambled", "refused",
              "busy", "lying-driver", "crashing-driver", "honest-after-reflash",
              "relabelled-sibling", "as-claimed")  # fmt: skip
COMMON = {"cardassay", "PCI", "OK"}


def texts(form, path=""):
    """Every text of a language by its place, those of its groups as well."""
    if isinstance(form, str):
        yield path, form
    elif isinstance(form, Mapping):
        for key, one in form.items():
            yield from texts(one, f"{path}[{key}]")
    elif isinstance(form, tuple):
        for place, one in enumerate(form):
            yield from texts(one, f"{path}.{place}")
    elif dataclasses.is_dataclass(form):
        for field in dataclasses.fields(form):
            yield from texts(getattr(form, field.name), f"{path}.{field.name}")


def blanks(text):
    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_language_is_complete(language):
    form = wording(language)
    assert form.code == language
    for name, wanted in (
        ("rates", keys.RATES), ("titles", keys.TITLES), ("findings", keys.FINDINGS),
        ("phrases", keys.PHRASES), ("unchecked", keys.UNCHECKED),
        ("settle", keys.SETTLE),
    ):  # fmt: skip
        assert set(getattr(form, name)) == set(wanted), name
    empty = [path for path, text in texts(form) if not text.strip(" \N{NO-BREAK SPACE}")
             and path != ".thousands"]  # fmt: skip
    assert empty == []


@pytest.mark.parametrize("language", OTHERS)
def test_a_language_is_filled_in_like_english(language):
    english, form = dict(texts(wording("en"))), dict(texts(wording(language)))
    assert set(form) == set(english)
    odd = {
        path: (blanks(english[path]), blanks(text))
        for path, text in form.items()
        if ".phrases[" not in path and not blanks(text) <= blanks(english[path])
    }
    assert odd == {}
    for path, text in form.items():  # nothing that is told may be lost
        if ".phrases[" not in path:
            assert blanks(text) == blanks(english[path]), path
        assert text == text.strip() or path == ".thousands", path
        assert text.count("`") == english[path].count("`"), path


@pytest.mark.parametrize("language", OTHERS)
def test_nothing_was_left_in_english(language):
    english, form = dict(texts(wording("en"))), dict(texts(wording(language)))
    same = [path for path, text in form.items()
            if text == english[path] and len(text.split()) > 2]  # fmt: skip
    assert same == []


def test_the_command_names_every_language(capsys):
    with pytest.raises(SystemExit):
        parse(["evidence", "--help"])
    shown = " ".join(capsys.readouterr().out.split())
    assert all(f"{language} (" in shown for language in LANGUAGES)
    with pytest.raises(EvidenceError, match="choose one of de, en, es"):
        wording("xx")


def test_quotation_marks_are_each_languages_own():
    assert wording("de").quotes == ("„", "“")
    assert wording("es").quotes == ("«", "»")
    for language, wrong in (("de", '”«»"'), ("es", '“”„"')):
        for path, text in texts(wording(language)):
            assert not set(wrong) & set(text), (language, path)


def test_spanish_questions_and_german_addresses_are_formal():
    for _, text in texts(wording("de")):
        assert not re.search(r"\b(du|dein\w*|dir|dich)\b", text)
    for _, text in texts(wording("es")):
        assert not re.search(r"\b(tú|tus?|te|ti)\b", text)


def test_figures_are_written_as_the_language_does():
    de, es, en = (wording(one) for one in ("de", "es", "en"))
    text = "2.72 to 8.42 TFLOP/s"
    assert said(text, de).text == "2,72 bis 8,42 TFLOP/s"
    assert said(text, es).text == "2,72 a 8,42 TFLOP/s"
    assert said(text, en).text == text
    assert said("139 of 737,280 results wrong", de).text == (
        "139 von 737.280 Ergebnissen falsch"
    )
    assert said("12.5 % of the cells", de).text == "12,5 % der Zellen"
    assert number(1234567, es) == "1\N{NO-BREAK SPACE}234\N{NO-BREAK SPACE}567"
    assert [number(4096, one) for one in (en, de, es)] == ["4,096", "4.096", "4096"]
    assert said("4,096 of 65,536 results wrong", es).text == (
        "4096 de 65\N{NO-BREAK SPACE}536 resultados erróneos"
    )


def test_dates_are_written_as_people_write_them():
    """DIN 5008 and the RAE's orthography; from memory."""
    written = {"en": "3 March 2026", "de": "3. März 2026", "es": "3 de marzo de 2026"}
    for language, text in written.items():
        assert len(wording(language).months) == 12
        assert day("2026-03-03T10:00:00+00:00", wording(language)) == text
    assert day("no day", wording("de")) == "no day"


def test_a_figure_and_what_it_counts_stand_on_one_line():
    text = tied("8,00 GiB, 12,5 %, 1 Zelle, 256 Bit, GTX 1070 has 15 units")
    assert text.replace("\xa0", "~") == (
        "8,00~GiB, 12,5~%, 1~Zelle, 256~Bit, GTX~1070 has 15 units"
    )


def test_a_driver_that_gives_no_more_is_not_said_to_lack_memory():
    record, _ = parts.after_test("refused")
    (one,) = paragraphs(record, wording("en"))
    assert one.said.text == (
        "Of 8.00 GiB of memory the driver gave the test only 2.00 GiB. The rest could "
        "not be tested."
    )


def test_another_makers_id_has_words():
    record, _ = parts.after_test("unknown-model")
    (one,) = paragraphs(record, wording("de"))
    assert one.said.text == (
        "Ihre PCI-Kennung f00d:0800 ist die einer Karte eines anderen Herstellers, "
        "nicht die einer GeForce GTX 1070."
    )


@pytest.mark.parametrize(
    "text",
    ["6.1", "10de:1b80", "GeForce GTX 1070", "86.04.26.00.80", "gfx1030", "6.1 or 7.0"],
)
def test_versions_names_and_ids_keep_their_points(text):
    found = said(text, wording("de"))
    assert found.text == text.replace(" or ", " oder ")
    assert not found.foreign


@pytest.mark.parametrize("text", ["a word unknown", "64 cats", "no lanes at all"])
def test_what_is_not_understood_stays_as_it_is_and_is_marked(text):
    found = said(text, wording("es"))
    assert (found.text, found.foreign) == (text, True)


@pytest.mark.parametrize("condition", CONDITIONS)
def test_the_verdict_says_what_the_judge_says(condition):
    """In English the same sentence; in others the same figures and names, no more."""
    record, _ = parts.after_test(condition)
    judged = record.verdict.sentence
    if record.verdict.outcome not in ("faulty", "undetermined"):
        assert verdict(record, wording("en")).text == judged
    for language in LANGUAGES:
        found = verdict(record, wording(language))
        assert not found.foreign
        own = re.findall(r"\d+[.,]\d+ GiB|GK?P?\d{3}|GTX \d+|\b\d+\b", found.text)
        for one in own:
            assert one.replace(",", ".") in judged


@pytest.mark.parametrize("condition", CONDITIONS)
def test_decisive_and_strong_findings_have_words_in_every_language(condition):
    record, _ = parts.after_test(condition)
    for language in LANGUAGES:
        told = paragraphs(record, wording(language))
        assert told
        assert [one.said.text for one in told if one.said.foreign] == [], language


@pytest.mark.parametrize("language", OTHERS)
def test_words_are_filled_in_with_the_judges_figures(language):
    record, _ = parts.after_test("mirrored")
    (one,) = [one for one in record.findings if one.rule == "memory-bits"]
    text = told_of(one, record, wording(language)).text
    assert "8,00 GiB" in text
    assert "2,00 GiB" in text
    repeats = {"de": "noch einmal", "es": "otra vez"}
    assert repeats[language] in text


@pytest.mark.parametrize("language", OTHERS)
def test_a_finding_without_words_is_quoted_and_marked(language):
    record, _ = parts.after_test("spilled")
    (one,) = [one for one in record.findings if one.rule == "resident-groups"]
    found = told_of(one, record, wording(language))
    assert (found.text, found.foreign) == (one.sentence, True)
    page = parts.pack(record, language).page.decode()
    assert f'<html lang="{language}">' in page


def test_what_would_settle_a_doubt_is_worded_as_the_judge_does():
    """The keys are the judge's own sentences: none is out of date, none forgotten."""
    own = {*judge._SETTLE.values(), judge._ON_MAINS, judge._WITHOUT_LIMIT}
    assert own <= set(keys.SETTLE)
    # beside them those of `_settle`, `_without_driver` and of `probe.guards`
    assert len(keys.SETTLE) == len(own) + 6
    for step in set(summarise(parts.after_test("overheating")[0]).settle):
        assert step in keys.SETTLE
    page = html.unescape(parts.pack(parts.after_test("refused")[0], "de").page.decode())
    assert "ziehen Sie den Bildschirm von dieser Karte ab" in page


def test_what_was_not_checked_is_worded_as_the_judge_does():
    """The keys are the judge's own sentences: none is out of date."""
    seen = set()
    for condition in CONDITIONS:
        for listed in (True, False):
            record, _ = parts.after_test(condition, listed=listed)
            seen.update(summarise(record).unchecked)
    known = set(keys.UNCHECKED)
    assert {"The listing: what the card was sold as was not told."} <= seen & known
    assert seen <= known
