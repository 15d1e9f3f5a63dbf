"""The findings of both records beside each other, by their rule.

Each record is held against what it reports itself. A rule that has become silent, or
speaks for the first time, is told as that: another depth asks more.
"""

from collections.abc import Iterator

from reference.repaired.view import View
from reports.compared.value import Became, Row
from reports.record import Finding
from reports.summary import rule_title
from reports.words import BEARING

_AGAINST = ("contradicts", "fault")


def finding_rows(before: View, after: View) -> Iterator[Row]:
    """Return a row for each rule, the gravest finding of either side in it."""
    rules = [one.rule for view in (after, before) for one in view.own.findings]
    for rule in dict.fromkeys(rules):
        old, new = before.finding(rule), after.finding(rule)
        became = _became(old, new, honest=after.outcome == "as claimed")
        told = new or old
        yield Row(
            part="findings",
            title=rule_title(rule),
            before=_short(old),
            after=_short(new),
            became=became,
            note=told.sentence if told and became not in _QUIET else "",
        )


_QUIET = ("unchanged", "only before", "only after")


def _became(old: Finding | None, new: Finding | None, *, honest: bool) -> Became:
    """Return what became of a finding. Some rules speak only where something is off."""
    was, now = _is_against(old), _is_against(new)
    if now:
        return "got worse" if old is not None and not was else "still wrong"
    if new is None:
        return _cured(old) if was and honest else "only before"
    if old is None:
        return "only after"
    if was:
        return _cured(old) if new.bearing == "agrees" else "changed"
    return "unchanged" if old.bearing == new.bearing else "changed"


def _cured(old: Finding | None) -> Became:
    fault = old is not None and old.bearing == "fault"
    return "better" if fault else "became honest"


def _is_against(one: Finding | None) -> bool:
    return one is not None and one.bearing in _AGAINST


def _short(one: Finding | None) -> str | None:
    if one is None:
        return None
    bearing = BEARING[one.bearing][1]
    return f"{bearing}: {one.measured}" if one.measured else bearing
