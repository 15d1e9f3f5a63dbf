"""Two judgements of one record beside each other: what appeared, changed and went.

Compares and shows; judges nothing. Findings are matched by their rule; how sources and
claims are called does not count as a change.
"""

from typing import TYPE_CHECKING

import msgspec

from reports import words
from reports.base import Base, Text
from reports.record import Finding, Identified, Record, Verdict
from reports.terminal import Encodable, safe_text
from reports.text import inert

if TYPE_CHECKING:
    from rich.console import RenderableType


class Judgement(Base, frozen=True, kw_only=True):
    """One of the two: by which table, and what it came to."""

    table_version: Text | None = None
    table_sha256: Text | None = None
    verdict: Verdict | None = None
    identified: Identified | None = None


class Change(Base, frozen=True, kw_only=True):
    """One finding that is another now."""

    before: Finding
    after: Finding


class Rejudged(Base, frozen=True, kw_only=True):
    """What judging a record again has changed."""

    before: Judgement
    after: Judgement
    appeared: tuple[Finding, ...] = ()
    changed: tuple[Change, ...] = ()
    went: tuple[Finding, ...] = ()
    same: int = 0
    """Findings that are as they were."""


def compare(before: Record, after: Record) -> Rejudged:
    """Return what the second judgement of one record has changed."""
    old, new = list(before.findings), list(after.findings)
    kept = 0
    for one in before.findings:
        twin = next((two for two in new if _said(one) == _said(two)), None)
        if twin is not None:
            old.remove(one)
            new.remove(twin)
            kept += 1
    changed = []
    for one in tuple(old):
        twin = next((two for two in new if two.rule == one.rule), None)
        if twin is not None:
            old.remove(one)
            new.remove(twin)
            changed.append(Change(before=one, after=twin))
    return Rejudged(
        before=_judgement(before),
        after=_judgement(after),
        appeared=tuple(new),
        changed=tuple(changed),
        went=tuple(old),
        same=kept,
    )


def encode_rejudged(view: Rejudged) -> bytes:
    """Return the comparison as JSON."""
    return inert(msgspec.json.format(msgspec.json.encode(view), indent=1)) + b"\n"


def render_rejudged(view: Rejudged, width: int) -> "RenderableType":
    """Return both verdicts, then every finding that is not as it was."""
    from rich.console import Group  # noqa: PLC0415 - start-up

    parts: list[RenderableType] = [
        _dim("Then", view.before),
        safe_text(_sentence(view.before)),
        _dim("Now", view.after),
        safe_text(_sentence(view.after), "bold"),
    ]
    if view.after.identified is not None:
        parts.append(safe_text(view.after.identified.sentence))
    parts.append(safe_text(""))
    listed = (
        ("Appeared", [_line(one) for one in view.appeared]),
        ("Changed", [_both(one) for one in view.changed]),
        ("Went", [_line(one) for one in view.went]),
    )
    for title, lines in listed:
        if lines:
            parts += [safe_text(title, "dim"), *_hung(lines, width)]
    parts.append(safe_text(_unchanged(view)))
    return Encodable(Group(*parts))


def _judgement(record: Record) -> Judgement:
    return Judgement(
        table_version=record.program.table_version,
        table_sha256=record.program.table_sha256,
        verdict=record.verdict,
        identified=record.identified,
    )


def _said(one: Finding) -> tuple[str, ...]:
    """Return what a finding says; names of sources and of the claim are wording."""
    return (
        one.rule, one.strength, one.bearing, one.measured, one.envelope, one.sentence
    )  # fmt: skip


def _dim(when: str, one: Judgement) -> "RenderableType":
    version = one.table_version
    by = f"by the table {version}" if version else "by no table"
    return safe_text(f"{when}, {by}:", "dim")


def _sentence(one: Judgement) -> str:
    return one.verdict.sentence if one.verdict else "Not judged."


def _line(one: Finding) -> str:
    mark, bearing = words.BEARING[one.bearing]
    return f"{mark} {words.STRENGTH[one.strength]}, {bearing}: {one.sentence}"


def _both(one: Change) -> str:
    if one.before.sentence == one.after.sentence:
        strength, bearing = one.before.strength, words.BEARING[one.before.bearing][1]
        return f"{_line(one.after)} (was {strength}, {bearing})"
    return f"{_line(one.after)} (was: {_line(one.before)})"


def _unchanged(view: Rejudged) -> str:
    other = bool(view.appeared or view.changed or view.went)
    noun = "finding is" if view.same == 1 else "findings are"
    if not other and not view.same:
        return "Neither judgement found anything."
    if not other:
        return f"Nothing changed: all {view.same} {noun} as before."
    return f"{view.same} {noun} as before."


def _hung(texts: list[str], width: int) -> "list[RenderableType]":
    """Return each text with its further lines indented."""
    from rich.padding import Padding  # noqa: PLC0415 - start-up

    shown = Padding.indent
    return [shown(safe_text(text), min(2, width)) for text in texts]
