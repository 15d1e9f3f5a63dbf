"""What terminal and page show of a comparison in the same way: clean, and decided."""

from itertools import pairwise

from reports import words
from reports.compared.value import Compared
from reports.summary import clean


def practice_notice(view: Compared) -> str | None:
    """Return that no real card was tested, where that holds of either record."""
    if not view.practice:
        return None
    names = dict.fromkeys(
        clean(one.practice_condition or "")
        for one in (view.before, view.after)
        if one.practice
    )
    return words.practice(", then ".join(name for name in names if name))


def steps_of(view: Compared, *, wrong: bool) -> tuple[tuple[str, str], ...]:
    """Return sentence and next step of each reason, clean.

    A step that several in a row share stands behind the last of them alone.
    """
    found = [
        (clean(one.sentence), clean(one.step))
        for one in view.reasons
        if one.wrong == wrong
    ]
    shared = {place for place, (one, other) in enumerate(pairwise(found))
              if one[1] == other[1]}  # fmt: skip
    return tuple(
        (sentence, "" if place in shared else step)
        for place, (sentence, step) in enumerate(found)
    )
