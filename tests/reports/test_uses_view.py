"""How uses are shown: grouped, each reason once, sources by number, nothing obeyed."""

import pytest
from record_strategies import HOSTILE

from reports.templating import template
from reports.uses import ANSWERS, CAUTION, HEAD, Use, view_of


def use(name, answer="yes", because="Ample: 8.00 GiB of memory.", sources=()):
    return Use(
        name=name,
        title=f"Work {name}",
        answer=answer,
        because=because,
        needs=f"{name} takes 2 GB.",
        sources=sources,
    )


MANY = (
    use("a", "no", "Too little."),
    use("b", sources=("One", "Two")),
    use("c", sources=("Two",)),
    use("d", "not measured", "Not measured: memory."),
    use("e", "with limits", "Scant."),
)


def page(uses):
    return str(template("uses.html.j2").module.uses_section(view_of(uses)))


def test_the_good_comes_first_and_a_reason_is_said_once():
    view = view_of(MANY)
    assert [group.answer for group in view.groups] == list(ANSWERS)
    (line,) = view.groups[0].lines
    assert line.titles == ("Work b", "Work c")
    assert view.whole is None
    assert view.sources == ("One", "Two")
    assert [one.sources for one in view.basis] == ["", "1, 2", "2", "", ""]


def test_one_answer_for_one_reason_stands_alone():
    uses = tuple(use(name, "no", "It is faulty.") for name in "abc")
    assert view_of(uses).whole == "It is faulty."
    assert "It is faulty." in page(uses)


def test_nothing_to_show_is_shown_as_nothing():
    assert view_of(()).groups == ()
    assert "<details>" not in page(())


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_stays_text(text):
    uses = (use("a", because=text, sources=(text,)), use("b", because="Fine."))
    made = page(uses)
    assert not any(sign in made for sign in "\x1b\x07\0\u202e\u2066\ufeff")
    assert "<script" not in made
    assert "<img" not in made
    assert "<b>" not in made
    assert "style=" not in made


def test_the_page_holds_every_text():
    made = page(MANY)
    for one in MANY:
        assert one.title in made
        assert one.because in made
        assert one.needs in made
    assert "Source: 1, 2." in made
    assert HEAD in made
    assert CAUTION.split(":", maxsplit=1)[0] in made
