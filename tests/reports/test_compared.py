"""A comparison shown: terminal, JSON and the customer's page."""

import json
import re
from html.parser import HTMLParser

import msgspec
import pytest
from command_line import shipped
from consoles import console_of
from msgspec.structs import replace
from record_strategies import HOSTILE, with_every_text
from repaired_runs import after, before, compared
from samples import EVERY

from reference.repaired.compare import compare
from reports import codec, words
from reports.carried import carried
from reports.compared.page import is_comparison, records_of, render_compared_page
from reports.compared.terminal import render_compared
from reports.compared.value import Compared, encode_compared
from reports.errors import RecordError
from reports.page import render_page
from reports.text import plain


@pytest.fixture(scope="module")
def view():
    return compared()


@pytest.fixture(scope="module")
def page(view):
    return _page(view, before(), after())


def _page(view, first, last):
    return render_compared_page(
        view, (first, codec.encode(first)), (last, codec.encode(last))
    )


def shown(view, width=80, encoding="utf-8"):
    console = console_of(width, encoding)
    console.print(render_compared(view, width))
    return console.shown()


class Reader(HTMLParser):
    """What a page is made of."""

    def __init__(self, text):
        super().__init__()
        self.ids, self.tags, self.words, self.uses = [], [], [], []
        self.attributes = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        for name, value in attrs:
            self.attributes.append(name)
            if name == "id":
                self.ids.append(value)
            if name in ("aria-labelledby", "href") and tag != "a":
                self.uses += (value or "").replace("#", "").split()

    def handle_data(self, data):
        self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())


# ------------------------------------------------------------------------ the page


def test_it_carries_both_records(page):
    data = page.encode()
    assert is_comparison(data)
    assert records_of(data, "page") == (codec.encode(before()), codec.encode(after()))
    with pytest.raises(RecordError, match="carries no record"):
        carried(data)


def test_a_report_is_no_comparison():
    assert not is_comparison(render_page(after()).encode())
    assert not is_comparison(codec.encode(after()))


def test_ids_are_unique_and_all_that_is_named_is_there(page):
    read = Reader(page)
    assert len(read.ids) == len(set(read.ids))
    assert set(read.uses) <= set(read.ids)
    assert page.count("<symbol ") == 7


def test_nothing_runs_and_nothing_is_fetched(page):
    read = Reader(page)
    assert not {"script", "link", "iframe", "object", "img"} & set(read.tags)
    assert not [one for one in read.attributes if one.startswith("on")]
    assert "style" not in read.attributes
    links = re.findall(r'href="([^"]{0,40})', page)
    assert {one[:5] for one in links if not one.startswith("#")} == {"data:"}


def test_it_says_what_a_customer_has_to_know(page, view):
    text = Reader(page).text
    for part in (
        view.sentence,
        view.stability.sentence,
        "Honest now (practice)",
        "became honest",
        "Sell it as what it is",
        "What it is good for now",
        "How it was tested",
        "Save the record from before the repair",
    ):
        assert part in text


def test_practice_is_never_shown_without_its_notice():
    for first, last in ((before(), after()), (before(), before())):
        made = _page(compared(first, last), first, last)
        notice = words.practice("mirrored")[:43]
        assert made.count(f'<p class="notice">{notice}') == 2
    mixed = replace(after(), practice=False, practice_condition=None)
    view = compared(last=mixed)
    assert view.outcome == "not yet"
    assert words.practice("mirrored") in _page(view, before(), mixed)


def test_a_real_cards_page_has_no_notice():
    first, last = (replace(one, practice=False) for one in (before(), after()))
    view = compared(first, last)
    made = _page(view, first, last)
    assert view.outcome == "honest now"
    assert "Honest now</p>" in made
    assert "Practice run" not in made


def test_a_reason_comes_with_its_next_step():
    last = replace(after(), depth="standard")
    text = Reader(_page(compared(last=last), before(), last)).text
    assert (
        "It was tested at standard depth only. Next: run cardassay check --depth "
        "thorough"
    ) in text


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_texts_stay_text(text):
    first, last = (with_every_text(one(), text) for one in (before, after))
    view = compare(first, last, shipped())
    made = _page(view, first, last)
    read = Reader(made)
    assert not {"script", "img", "b"} & set(read.tags)
    assert len(read.ids) == len(set(read.ids))
    assert _page(view, first, last) == made
    out = shown(view)
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", out)


def test_every_sample_has_a_page():
    for make in EVERY.values():
        first, last = make(), after()
        view = compared(first, last)
        made = _page(view, first, last)
        assert records_of(made.encode(), "page")[0] == codec.encode(first)
        assert plain(view.sentence, 1024) in Reader(made).text.replace("\xa0", " ")


# -------------------------------------------------------------------- the terminal


@pytest.mark.parametrize("width", [24, 40, 59, 60, 80, 200])
@pytest.mark.parametrize("encoding", ["utf-8", "ascii", "cp437"])
def test_the_terminal(view, width, encoding):
    out = shown(view, width, encoding)
    lines = out.splitlines()
    assert max(map(len, lines)) <= max(width, 20)
    text = " ".join(out.split())
    assert "Honest now." in text
    assert text.startswith("Practice run: no real card was tested.")
    assert text.endswith("honest-after-reflash.")
    assert "became honest" in text


def test_the_verdict_comes_first_then_why(view):
    last = replace(after(), depth="standard", interrupted=True)
    lines = shown(compared(last=last)).splitlines()
    verdict = next(i for i, line in enumerate(lines) if "Not yet." in line)
    reason = next(i for i, line in enumerate(lines) if "standard depth only" in line)
    row = next(i for i, line in enumerate(lines) if "became honest" in line)
    assert verdict < reason < row


def test_what_is_unchanged_is_only_counted():
    view = compared(after(), after())
    out = shown(view)
    count = sum(row.part != "findings" and not row.decides for row in view.rows)
    assert f"{count} things are as they were." in out
    assert "Memory, reading" not in out


def test_nothing_at_all_is_told_as_that():
    bare = EVERY["minimal"]()
    view = compared(bare, bare)
    assert "Nothing is different." in shown(view)
    assert "Nothing is different." in _page(view, bare, bare)


# ---------------------------------------------------------------------------- JSON


def test_json_comes_back(view):
    data = encode_compared(view)
    assert msgspec.json.decode(data, type=Compared) == view
    assert json.loads(data)["schema"] == 1


@pytest.mark.parametrize("make", EVERY.values(), ids=EVERY)
def test_json_of_any_sample_comes_back(make):
    view = compared(make(), make())
    assert msgspec.json.decode(encode_compared(view), type=Compared) == view
