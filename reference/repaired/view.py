"""One of the two records, judged with its listing and without it."""

from dataclasses import dataclass

from msgspec.structs import replace

from reference.case import Case
from reference.judge import judge
from reference.rules._say import a
from reference.table import Table
from reports.record import Claim, Finding, Outcome, Record
from reports.text import plain
from reports.units import gib

_NAME = 120


@dataclass(frozen=True)
class View:
    """A record under today's table. `own` lacks the listing: its own word alone."""

    sold: Record
    own: Record
    case: Case
    """Of `own`."""

    @property
    def listing(self) -> Claim | None:
        """What the card was sold as."""
        told = [one for one in self.sold.claims if one.layer == "listing"]
        return told[0] if told else None

    @property
    def outcome(self) -> Outcome:
        """What its own word came to."""
        verdict = self.own.verdict
        return verdict.outcome if verdict else "undetermined"

    @property
    def started(self) -> str:
        return self.own.started

    def finding(self, rule: str) -> Finding | None:
        """Return the gravest finding of a rule; findings are in that order."""
        return next((one for one in self.own.findings if one.rule == rule), None)

    @property
    def sold_as(self) -> str | None:
        """Return the listing in words: `8 GB` means 8 GiB."""
        if self.listing is None:
            return None
        whole = Case(self.sold, self.case.table).listed_whole
        return _with(self.listing.model, whole)

    @property
    def reported_as(self) -> str | None:
        """Return what the card calls itself, in words."""
        return _with(self.case.model or None, self.case.reported_bytes)


def view_of(record: Record, table: Table) -> View:
    """Return a record as it is judged today."""
    claims = tuple(one for one in record.claims if one.layer != "listing")
    own = judge(replace(record, claims=claims), table)
    sold = own if len(claims) == len(record.claims) else judge(record, table)
    return View(sold=sold, own=own, case=Case(own, table))


def _with(model: str | None, size: int | None) -> str | None:
    name = plain(model, _NAME) if model else ""
    if size and name:
        return f"{a(name)} with {gib(size)}"
    if size:
        return f"a card with {gib(size)}"
    return a(name) if name else None
