"""What came of one card of a batch: as lines for a terminal, and as one line of JSON.

Takes plain data, made clean before; finds nothing out.
"""

from typing import TYPE_CHECKING

import msgspec

from reports import words
from reports.base import Base, Count
from reports.record import Outcome
from reports.terminal import Encodable, safe_text
from reports.text import inert

if TYPE_CHECKING:
    from rich.console import RenderableType

_INDENT = 4


class Before(Base, frozen=True, kw_only=True):
    """An earlier visit of the same card, as the ledger has it."""

    day: str
    """ISO 8601."""
    outcome: Outcome | None = None
    stock_no: str | None = None


class Entered(Base, frozen=True, kw_only=True):
    """What the ledger made of a record."""

    record: int
    card: int
    how: str
    remark: str
    visits: Count
    """Records of this card, this one counted."""
    doubtful: bool = False
    """Whether the stock number is known for a card that answered otherwise."""
    before: Before | None = None
    """The last visit before this one."""


class Batched(Base, frozen=True, kw_only=True):
    """One card of a batch. None, empty: not so, or not known."""

    stock_no: str
    folder: str
    card: str = ""
    pci_address: str | None = None
    outcome: Outcome | None = None
    sentence: str = ""
    practice: bool = False
    interrupted: bool = False
    cut_off: bool = False
    """Whether its test met a crash, a hang or a power cut on its way."""
    certificate: str | None = None
    """Where its page lies."""
    not_certified: tuple[str, ...] = ()
    """Why there is none, as sentences; empty where none was wanted."""
    ledger: Entered | None = None
    not_in_ledger: str | None = None
    """Why its record is not there."""
    problem: str | None = None
    """Why there is no record of it, or none that counts."""
    remarks: tuple[str, ...] = ()
    picked_up: bool = False
    """Whether it was tested by an earlier start of the batch."""
    exit_code: int = 0
    """What a batch of this card alone would end with."""


def encode(batched: Batched) -> bytes:
    """Return it as one line of JSON."""
    return inert(msgspec.json.encode(batched)) + b"\n"


def render(batched: Batched, *, brief: bool = False) -> "RenderableType":
    """Return it for a terminal: the verdict's line, then what was done with it."""
    from rich.console import Group  # noqa: PLC0415 - start-up
    from rich.padding import Padding  # noqa: PLC0415 - start-up

    mark = "?"
    if batched.outcome is not None and not batched.problem:
        mark = words.OUTCOME[batched.outcome][0]
    head = f"{mark} {batched.stock_no}: {_sentence(batched)}"
    parts: list[RenderableType] = [safe_text(head, "bold")]
    if not brief:
        inner = (0, 0, 0, _INDENT)
        parts += [Padding(safe_text(line), inner) for line in _lines(batched)]
    return Encodable(Group(*parts))


def _sentence(batched: Batched) -> str:
    if batched.problem:
        return batched.problem
    practice = "Practice run: no real card was tested. " if batched.practice else ""
    said = batched.sentence or "It has no verdict."
    stopped = " Stopped before its end." if batched.interrupted else ""
    return f"{practice}{said}{stopped}"


def _lines(batched: Batched) -> list[str]:
    lines = []
    if batched.picked_up:
        lines.append("Tested before this start of the batch; picked up.")
    if batched.certificate:
        lines.append(f"Certificate: {batched.certificate}")
    if batched.not_certified:
        lines.append(f"Not certified. {' '.join(batched.not_certified)}")
    if batched.ledger is not None:
        lines += _entered(batched.ledger)
    if batched.not_in_ledger:
        lines.append(f"Ledger, not told: {batched.not_in_ledger}")
    lines += [f"Note: {remark}" for remark in batched.remarks]
    lines.append(f"Documents: {batched.folder}")
    return lines


def _entered(entered: Entered) -> list[str]:
    text = f"Ledger: record {entered.record}, card {entered.card}"
    before = entered.before
    if before is not None:
        said = words.OUTCOME[before.outcome][1] if before.outcome else "no verdict"
        text += f"; here before on {before.day}: {said}"
        if before.stock_no:
            text += f", as {before.stock_no}"
    mark = "! " if entered.doubtful else ""
    return [f"{text}. {mark}{entered.remark}"]
