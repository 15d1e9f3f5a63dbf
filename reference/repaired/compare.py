"""Compares two records of one card, and says whether its report is honest now.

"Honest now" only where the record after the repair is as claimed for what the card now
reports itself, at its real capacity, at thorough depth, without a failing cell, a
wrong result or a cut; and where nothing says that it is another card. Else "not yet",
with every reason (`conditions.py`). How the card lasts is told apart.
"""

from dataclasses import dataclass

from msgspec.structs import replace

from reference.repaired.chip import chip_rows
from reference.repaired.claims import claim_rows, further_rows
from reference.repaired.conditions import denied, failing
from reference.repaired.found import finding_rows
from reference.repaired.lasting import lasting_rows, stability_of
from reference.repaired.memory import is_less, memory_rows
from reference.repaired.rates import rate_rows
from reference.repaired.silicon import same_card
from reference.repaired.view import View, view_of
from reference.table import Table
from reference.uses import uses_of
from reports.compared.value import (
    Compared,
    Match,
    Outcome,
    Reason,
    Row,
    Side,
)
from reports.record import Record
from reports.text import plain
from reports.units import moment_of

_PARTS = ("claims", "memory", "lasting", "chip", "rates", "further", "findings")
_STATES = (
    "still wrong", "got worse", "became honest", "better", "changed", "only before",
    "only after", "unchanged",
)  # fmt: skip
_ADDED = (
    "Whoever made this sheet added rows to the table of genuine cards: what they tell "
    "of a genuine card is that person's word."
)
_LONGEST = 2000
"""Characters of one text kept."""


@dataclass(frozen=True)
class Digests:
    """SHA-256 of the stored bytes of both, in hexadecimal; None: not given."""

    before: str | None = None
    after: str | None = None


def compare(
    before: Record,
    after: Record,
    table: Table,
    digests: Digests | None = None,
    *,
    shipped: Table | None = None,
) -> Compared:
    """Return what became of a card between two records, by today's table.

    `shipped` is the table without the rows that somebody added for this comparison;
    None: none were. Such rows may name a model that it lacks, and never make honest
    what it knows to be false. Pure and total: never raises on records that
    `reports.codec` would read.
    """
    old, new = view_of(before, table), view_of(after, table)
    match, difference = same_card(old, new)
    added = _is_added(new, table, shipped)
    reasons = failing(old, new)
    if shipped is not None and not reasons:
        reasons = denied(view_of(after, shipped))
    if match == "differs":
        reasons = (
            Reason(
                sentence=f"These two records tell of different chips: {difference}.",
                step="name two records of one card",
                wrong=False,
            ),
            *reasons,
        )
    outcome: Outcome = "not yet" if reasons else "honest now"
    settled = not reasons or (match != "differs" and any(one.wrong for one in reasons))
    known = digests or Digests()
    return Compared(
        practice=before.practice or after.practice,
        table_version=table.version,
        table_sha256=table.sha256,
        outcome=outcome,
        settled=settled,
        sentence=_sentence(old, new, reasons, match, difference, added)[:_LONGEST],
        reasons=tuple(map(_short, reasons)),
        remarks=tuple(
            one[:_LONGEST]
            for one in (*((_ADDED,) if shipped else ()), *_remarks(old, new, match))
        ),
        added_rows=shipped is not None,
        same_card=match,
        stability=stability_of(new),
        before=_side(old, before, known.before),
        after=_side(new, after, known.after),
        uses=() if match == "differs" else uses_of(new.own, table),
        rows=_rows(old, new, match),
    )


def _rows(old: View, new: View, match: Match) -> tuple[Row, ...]:
    rows = (
        *claim_rows(old, new, one_card=match == "fits"),
        *memory_rows(old, new),
        *chip_rows(old, new),
        *rate_rows(old, new),
        *lasting_rows(old, new),
        *further_rows(old, new),
        *finding_rows(old, new),
    )
    return tuple(
        sorted(
            map(_bounded, rows),
            key=lambda one: (
                one.part == "findings",
                not one.decides,
                _STATES.index(one.became) if one.decides else 0,
                _PARTS.index(one.part),
            ),
        )
    )


def _short(reason: Reason) -> Reason:
    return replace(
        reason, sentence=reason.sentence[:_LONGEST], step=reason.step[:_LONGEST]
    )


def _bounded(row: Row) -> Row:
    """Return a row with no text longer than is worth reading: some are joined."""
    return replace(
        row,
        title=row.title[:_LONGEST],
        by=row.by[:_LONGEST],
        before=None if row.before is None else row.before[:_LONGEST],
        after=None if row.after is None else row.after[:_LONGEST],
        note=row.note[:_LONGEST],
    )


def _sentence(
    old: View,
    new: View,
    reasons: tuple[Reason, ...],
    match: Match,
    difference: str,
    added: bool,  # noqa: FBT001 - nobody else calls it
) -> str:
    """Return the one sentence that a customer reads."""
    if match == "differs":
        return (
            f"These two records tell of different chips: {difference}. Nothing can be "
            "compared."
        )
    first, told = _first(old, new), _now(old, new)
    if not reasons:
        ends = ["as it was before"] if old.outcome == "as claimed" else []
        if is_less(old, new):
            ends = ["but with less memory than answered before"]
        if added:
            ends.append("by figures that were added to the table by hand")
        return (
            f"{first}{told}, and everything measured bears that out. "
            f"{', '.join(('Honest now', *ends))}."
        )
    if any(one.wrong for one in reasons):
        verdict = new.own.verdict
        if verdict is not None and verdict.outcome in ("not as claimed", "faulty"):
            return f"After the repair: {verdict.sentence} Not yet honest."
        return f"{first}{told}, but not all of it holds. Not yet honest."
    open_ = "but that is not settled"
    if new.outcome == "as claimed":
        open_ = "and nothing measured speaks against it, but that is not enough"
    return f"{first}{told}, {open_}. Not yet."


def _is_added(view: View, table: Table, shipped: Table | None) -> bool:
    """Whether it is held against rows that the shipped table lacks."""
    if shipped is None or view.own.genuine is None:
        return False
    used = set(view.own.genuine.variants)
    known = {row.id: row for row in shipped.variants}
    return any(row.id in used and known.get(row.id) != row for row in table.variants)


def _now(old: View, new: View) -> str:
    """Return what the card calls itself, as the beginning of a sentence."""
    if new.reported_as is None:
        return "Now it says nothing of itself"
    if new.reported_as == old.reported_as:
        return f"It calls itself {new.reported_as}, as before"
    return f"Now it calls itself {new.reported_as}"


def _first(old: View, new: View) -> str:
    """Return what the card was before, as a sentence with a blank behind it."""
    if old.sold_as and old.sold_as == old.reported_as:
        return f"It was sold as {old.sold_as}, and called itself so. "
    if old.sold_as:
        return f"It was sold as {old.sold_as}. "
    called = old.reported_as and old.reported_as != new.reported_as
    return f"It called itself {old.reported_as}. " if called else ""


def _remarks(old: View, new: View, match: Match) -> tuple[str, ...]:
    """Return what to know when reading the two beside each other."""
    found = []
    if match == "fits":
        found.append(
            "Both records tell of the same kind of chip. Two cards of one kind cannot "
            "be told apart: no serial number is kept."
        )
    elif match == "unknown":
        found.append(
            "Whether both records are of one card could not be measured: one of them "
            "lacks what tells its chip."
        )
    found += _when(old, new)
    cut = old.own.interrupted or old.own.incidents
    if cut and not old.case.unmeasured:
        found.append(
            "The test before the repair did not come to its end: what it lacks cannot "
            "be compared."
        )
    if old.outcome == "as claimed":
        found.append("What the card said of itself was right before the repair, too.")
    one, other = old.own.program.version, new.own.program.version
    if one != other:
        found.append(
            f"The records were made by different versions of the program: "
            f"{plain(one)} and {plain(other)}. Both are judged here by the same table."
        )
    if old.case.unmeasured:
        found.append(
            "The card was not tested before the repair: only what its layers said, and "
            "what was seen on it, is known of that time."
        )
    elif old.own.depth != new.own.depth:
        found.append(
            f"They were tested at different depths, {old.own.depth} and "
            f"{new.own.depth}: the deeper one asks more."
        )
    if new.sold_as and new.sold.verdict and new.sold.verdict.outcome != "as claimed":
        found.append(
            f"The record after the repair still carries a listing, {new.sold_as}, "
            "which it does not bear out. Only what the card reports itself was held "
            "against it here."
        )
    return tuple(found)


def _when(old: View, new: View) -> list[str]:
    """Return what to know of the order in which they were made."""
    first, last = moment_of(old.started), moment_of(new.started)
    if first is None or last is None:
        return ["One of the records does not say when it was made."]
    if last < first:
        said = "The record named second was made before the one named first: they may "
        return [f"{said}have been swapped."]
    return []


def _side(view: View, record: Record, digest: str | None) -> Side:
    found = view.own.identified
    return Side(
        sha256=digest,
        label=record.card.label,
        started=record.started,
        depth=record.depth,
        practice=record.practice,
        practice_condition=record.practice_condition,
        program_version=record.program.version,
        table_version=record.program.table_version,
        sold_as=view.sold_as,
        reported_as=view.reported_as,
        chip=found.sentence if found else None,
        verdict=view.sold.verdict,
        own_verdict=view.own.verdict,
    )
