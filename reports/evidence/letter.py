"""The letter to the seller or marketplace: facts, one request, blanks to fill in.

Neutral: it says what was measured, never who did what, and claims no right. What it
asks for follows from the verdict. Where there is nothing to complain of, or the card
was not judged by what it was sold as, there is none.
"""

import textwrap
from typing import Final, Literal

from reports.evidence.case import Case
from reports.evidence.findings import paragraphs
from reports.evidence.speech import Said, day
from reports.evidence.verdict import claim_text, listed, verdict
from reports.evidence.wording import Wording
from reports.record import Record
from reports.summary import clean
from reports.text import tied

BLANK: Final = "________"
_WIDTH: Final = 76
_GIB: Final = "GiB"
_FACTS: Final = 6
"""At most so many findings are told; the page has them all."""

Kind = Literal["not as claimed", "faulty", "undetermined"]


def kind_of(case: Case, record: Record) -> Kind | None:
    """Return which letter the verdict calls for; None where it calls for none."""
    outcome = record.verdict.outcome if record.verdict else None
    if outcome == "faulty":
        return "faulty"
    if case.held == "none" or listed(record) is None:
        return None
    if outcome == "not as claimed":
        return "not as claimed"
    return "undetermined" if outcome in ("undetermined", None) else None


def letter(case: Case, record: Record, words: Wording) -> str | None:
    """Return the letter as a text file has it; None where there is none."""
    found = blocks_of(case, record, words)
    return "\n\n".join(map(_wrapped, found)) + "\n" if found else None


def blocks_of(case: Case, record: Record, words: Wording) -> tuple[str, ...]:
    """Return the letter's paragraphs, each of one line or more; none: no letter."""
    kind = kind_of(case, record)
    if kind is None:
        return ()
    blocks = [_head(case, words), _subject(kind, words), words.letter.greeting]
    blocks += _body(case, record, kind, words)
    blocks.append(f"{words.letter.closing}\n{clean(case.order.buyer or '') or BLANK}")
    if record.practice:
        blocks = [words.letter.practice, *blocks, words.letter.practice]
    return tuple(tied(one) for one in blocks)


def quoted(one: Said, words: Wording) -> str:
    """Return a text for a place without markup: what is foreign in quotation marks."""
    if not one.foreign:
        return one.text
    left, right = words.quotes
    return f"{left}{one.text}{right} ({words.page.quoted})"


def _head(case: Case, words: Wording) -> str:
    form, order = words.letter, case.order
    lines = (
        (form.to, order.seller),
        (form.order, order.number),
        (form.bought, day(order.bought or "", words)),
        (form.price, order.price),
        (form.date, day(case.made, words)),
    )
    return "\n".join(
        shape.format(value=clean(value or "") or BLANK) for shape, value in lines
    )


def _subject(kind: Kind, words: Wording) -> str:
    form = words.letter
    return {
        "not as claimed": form.subject_not,
        "faulty": form.subject_faulty,
        "undetermined": form.subject_open,
    }[kind]


def _body(case: Case, record: Record, kind: Kind, words: Wording) -> list[str]:
    form = words.letter
    claim = listed(record) if case.held != "none" else None
    told = paragraphs(record, words)[:_FACTS]
    facts = "\n".join(f"- {quoted(one.said, words)}" for one in told)
    tested = (form.tested if _measured(record) else form.read).format(
        day=day(clean(record.started)[:10], words),
        version=clean(record.program.version),
    )
    head = form.open if kind == "undetermined" else form.found
    only, asked = {
        "not as claimed": (form.facts_only, form.ask),
        "faulty": (form.facts_only_faulty, form.ask),
        "undetermined": (form.facts_only_open, form.ask_nothing),
    }[kind]
    offered = form.offered_enclosed
    if claim is not None:
        offered = form.offered.format(claim=claim_text(claim, words))
    result = quoted(verdict(record, words), words)
    told_gib = any(_GIB in text for text in (offered, result, facts))
    return [
        offered,
        tested,
        result,
        *([f"{head}\n{facts}"] if facts else []),
        f"{only} {words.page.gib}" if told_gib else only,
        asked,
        (form.enclosed, form.enclosed_photo, form.enclosed_photos)[
            min(len(case.photos), 2)
        ],
    ]


def _measured(record: Record) -> bool:
    """Whether anything was measured, beside what the card says of itself."""
    proof = record.capacity
    return bool(
        record.rates or record.structure or record.soak or (proof and proof.passes)
    )


def _wrapped(block: str) -> str:
    return "\n".join(
        textwrap.fill(
            line,
            _WIDTH,
            subsequent_indent="  " if line.startswith("- ") else "",
            break_long_words=False,
            break_on_hyphens=False,
        )
        for line in block.split("\n")
    )
