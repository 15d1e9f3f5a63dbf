"""`cardassay inspect`: what a person sees, asked or given, put into a record.

Asks and prints; what answers mean is `answers.py`'s, what follows the judge's.
"""

import argparse
import sys
from pathlib import Path
from typing import Final

from msgspec.structs import replace

from probe import commands, merge
from probe.answers import (
    QUESTIONS,
    AnswerError,
    Question,
    from_options,
    made,
)
from probe.check import listing_of
from probe.cli import Exit
from probe.errors import UsageError
from reference import table as tables
from reports import codec
from reports.inspection import Inspection
from reports.record import Record
from reports.terminal import render_result

BEFORE: Final = """\
Switch the PC off and unplug it before the card is taken out; touch earthed metal first.
Leave the cooler on unless the card is yours to open: taking it off can cost the right
to give it back. Enter passes a question over: not looked at."""
_TRIES: Final = 3
_NOT_KEPT: Final = "what is seen will not be kept: name a file for it with --out"


def inspect(asked: argparse.Namespace) -> Exit:
    """Put what is seen into a record; return the verdict's code.

    Raises UsageError, RecordError, TableError.
    """
    merge.spare(asked.record, asked.out, asked.page)
    table = tables.load(Path(asked.reference) if asked.reference else None)
    record = _record(asked, table)
    told = from_options(_options(asked))
    if told is None:
        told = _ask(stored=bool(asked.out or asked.page))
    record = replace(record, inspection=merge.merged(record.inspection, told))
    judged = merge.store(record, table, asked.out, asked.page)
    if asked.json:
        sys.stdout.buffer.write(codec.encode(judged))
        sys.stdout.buffer.flush()
    else:
        console = commands.make_console()
        console.print(render_result(judged, console.width, page=asked.page))
        if asked.out:
            commands.aside(f"Record: {asked.out}")
    return commands.outcome_code(replace(judged, interrupted=False))


def _record(asked: argparse.Namespace, table: tables.Table) -> Record:
    listing = listing_of(asked, table)
    if asked.record is None:
        if listing is None or not listing.model:
            raise UsageError(
                "no card was named: give its record, or say with --claim what it was "
                "sold as"
            )
        return merge.bare_record(listing)
    record = merge.read_record(asked.record)
    if listing is None:
        return record
    old = next((one for one in record.claims if one.layer == "listing"), None)
    if old is not None and listing.model is None:
        listing = replace(old, memory_bytes=listing.memory_bytes)
    rest = tuple(one for one in record.claims if one.layer != "listing")
    return replace(record, claims=(listing, *rest))


def _options(asked: argparse.Namespace) -> dict[str, object]:
    return {
        one.option: getattr(asked, one.option.lstrip("-").replace("-", "_"))
        for one in QUESTIONS
    }


def _ask(*, stored: bool) -> Inspection:
    """Ask one question after the other. Raises UsageError where nobody can answer."""
    if sys.stdin is None or not sys.stdin.isatty():
        raise UsageError(
            "nothing was told of the card: answer by options, as --plugs none "
            "--outputs 'DVI-D, HDMI'"
        )
    commands.aside(BEFORE)
    if not stored:
        commands.aside(f"cardassay: {_NOT_KEPT}")
    found: dict[str, object] = {}
    for one in QUESTIONS:
        if _is_idle(one, found):
            continue
        answer, more = _answer(one)
        if answer is not None:
            found[one.field] = answer
        if not more:
            break
    if not found:
        raise UsageError("nothing was told of the card")
    return made(found)


def _is_idle(one: Question, found: dict[str, object]) -> bool:
    """Whether a question makes no sense after the answers so far."""
    if one.field == "die":
        return found.get("die_surface") == "unreadable"
    if one.field in ("memory_density_mbit", "memory_width_bits"):
        return "memory_chips" not in found
    return False


def _answer(one: Question) -> tuple[object, bool]:
    """Return the answer, None where it was passed over; and whether anybody answers."""
    for _ in range(_TRIES):
        commands.aside(f"{one.asks} ", end="")
        line = sys.stdin.readline()
        if not line:
            commands.aside("")
            return None, False
        if not line.strip():
            return None, True
        try:
            return one.understand(line.strip()), True
        except AnswerError as error:
            commands.aside(f"  {error}")
    commands.aside("  passed over")
    return None, True
