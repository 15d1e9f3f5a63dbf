"""`cardassay batch`: reads what is asked for, and refuses what is wrong with it.

All that a person can get wrong is refused before anything is tested: the key, the
ledger, the claim, the numbers. Then rounds follow (`rounds.py`) until nobody wants one.
"""

import argparse
import os
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from probe import certify, commands, environment, options, turns, unfinished
from probe.batch import asking, leftover, numbers, running, sharing, slots
from probe.batch.board import board_for
from probe.batch.doubts import Doubts
from probe.batch.lines import EndOfInputError, Lines
from probe.batch.numbers import Listed
from probe.batch.places import open_shelf
from probe.batch.rounds import Pair, Rounds
from probe.batch.settling import Desk
from probe.batch.slots import Slot
from probe.check import mind_the_battery, trial_of
from probe.cli import Exit
from probe.errors import HostError, UsageError
from reports.batched import Batched
from reports.certificate import keys
from reports.certificate.keys import SigningKey
from reports.certificate.statement import clean_name
from reports.ledger.entry import line
from reports.ledger.errors import UnreachableError
from reports.listing import Listing
from reports.text import named

_NO_KEY = "without a key, --no-certificates tests and keeps, and signs nothing"


def batch(asked: argparse.Namespace) -> Exit:
    """Test card after card; return the gravest of their exit codes."""
    lines = Lines()
    arguments = _arguments(asked)
    fixed = _numbers(asked)
    _refuse(asked, lines)
    trial = trial_of(options.parse(["check", "--yes", "--quiet", *arguments]))
    if not asked.practice:
        mind_the_battery(asked.depth, soak=trial.soak_seconds is not None)
    with Desk(
        trial=trial,
        key=_key(asked),
        operator=asked.operator or "",
        address=asked.ledger,
        bench=line(asked.bench, "--bench"),
        extra=Path(asked.reference) if asked.reference else None,
    ) as desk:
        _try_ledger(desk)
        rounds = Rounds(
            shelf=open_shelf(asked.out),
            desk=desk,
            board=board_for(
                commands.make_console(), quiet=asked.quiet, as_json=asked.json
            ),
            start=running.Check,
            arguments=arguments,
            most=_most(asked),
        )
        unfinished.conclude_all(trial)
        leftover.pick_up(rounds, None if asked.yes else lines)
        if asked.yes:
            _unattended(asked, rounds, fixed, lines)
        else:
            _attended(asked, rounds, fixed, lines)
        return _exit(rounds.code)


@dataclass(frozen=True, kw_only=True)
class Fixed:
    """Numbers that were given with the command."""

    row: tuple[str, ...] = ()
    listed: tuple[Listed, ...] = ()

    @property
    def is_empty(self) -> bool:
        return not (self.row or self.listed)


def _unattended(
    asked: argparse.Namespace, rounds: Rounds, fixed: Fixed, lines: Lines
) -> None:
    """One round that asks nobody."""
    listing, here = _here(asked)
    missing: tuple[Listed, ...] = ()
    if fixed.is_empty:
        if lines.is_person:
            raise UsageError(asking.WITHOUT)
        found = asking.numbers_from(here, lines)
    else:
        found, missing = _matched(listing, here, fixed)
    _tell_left_out(here, found)
    doubts = Doubts(rounds.shelf, rounds.desk)
    for slot, number in found:
        doubt = doubts.about(number, slot)
        if doubt is not None:
            commands.aside(f"cardassay: {doubt}; going on")
    for one in missing:
        problem = f"there is no card at {one.where} that could be tested"
        rounds.tell(_absent(one.number, problem))
    rounds.run(_pairs(found))


def _attended(
    asked: argparse.Namespace, rounds: Rounds, fixed: Fixed, lines: Lines
) -> None:
    """Run rounds until a person has enough, or nobody answers."""
    accepted = bool(asked.practice)
    once = bool(asked.practice) or not fixed.is_empty
    with suppress(EndOfInputError):
        while True:
            try:
                found = _asked_for(asked, rounds, fixed, lines)
            except HostError as error:  # a dock may be empty still
                if once:
                    raise
                commands.aside(f"cardassay: {error}")
                found = ()
            if found and not accepted:
                asking.accept(lines)
                accepted = True
            if found:
                rounds.run(_pairs(found))
            if rounds.interrupted or once:
                break
            if not asking.goes_on(lines, rounds.shelf.path):
                break
    if not rounds.codes:
        commands.aside("cardassay: nothing was tested")


def _asked_for(
    asked: argparse.Namespace, rounds: Rounds, fixed: Fixed, lines: Lines
) -> tuple[tuple[Slot, str], ...]:
    """Return the cards of a round with their numbers. Raises HostError, UsageError."""
    try:
        listing, here = _here(asked)
    except UsageError as error:
        if not rounds.codes:
            raise
        raise HostError(str(error)) from None  # it was here before
    if fixed.is_empty:
        doubts = Doubts(rounds.shelf, rounds.desk)
        return asking.numbers_for(here, lines, doubts.about)
    found, missing = _matched(listing, here, fixed)
    for one in missing:
        commands.aside(f"cardassay: {one.number}: no card at {one.where}")
    _tell_left_out(here, found)
    return found


def _tell_left_out(here: Sequence[Slot], found: Sequence[tuple[Slot, str]]) -> None:
    numbered = [slot for slot, _ in found]
    for slot in here:
        if slot not in numbered:
            commands.aside(
                f"cardassay: {slot.identity.label} at {slot.where}: left out, no stock "
                "number was given for it"
            )


def _matched(
    listing: Listing, here: Sequence[Slot], fixed: Fixed
) -> tuple[tuple[tuple[Slot, str], ...], tuple[Listed, ...]]:
    if fixed.row:
        return slots.numbered(here, fixed.row), ()
    return slots.by_list(listing, here, fixed.listed)


def _pairs(found: Sequence[tuple[Slot, str]]) -> tuple[Pair, ...]:
    return tuple(Pair(slot=slot, number=number) for slot, number in found)


def _here(asked: argparse.Namespace) -> tuple[Listing, tuple[Slot, ...]]:
    """Return the cards of this PC and those meant. Raises HostError where none is."""
    if asked.practice:
        simulated = slots.simulated(asked.practice)
        return Listing(cards=tuple(one.card for one in simulated)), simulated
    from probe.survival import benches  # noqa: PLC0415 - start-up

    with benches.open_bench(asked.patience) as bench:
        listing = bench.listing()
        here, notes = slots.chosen(listing, asked.card or ())
        problem = None if here else bench.pick("all").problem
    for note in notes:
        commands.aside(f"cardassay: {note}")
    if not here:
        raise slots.nothing_here(problem)
    return listing, here


def _arguments(asked: argparse.Namespace) -> tuple[str, ...]:
    """Return the options that each check is given."""
    found = [f"--depth={asked.depth}", f"--patience={asked.patience:g}"]
    for name in ("claim", "claim_memory", "soak", "reference"):
        value = getattr(asked, name)
        if value is not None:
            found.append(f"--{name.replace('_', '-')}={value}")
    if asked.load_together:
        found.append("--load-together")
    return tuple(found)


def _numbers(asked: argparse.Namespace) -> Fixed:
    """Return the numbers given with the command. Raises UsageError."""
    if asked.stock_no:
        return Fixed(row=numbers.given(asked.stock_no))
    if not asked.stock_list:
        return Fixed()
    from reports.files import contents  # noqa: PLC0415 - start-up

    name = f"--stock-list {named(asked.stock_list)}"
    try:
        text = contents(Path(asked.stock_list), 2**22).decode("utf-8")
    except OSError as error:
        raise UsageError(f"{name}: cannot be read: {error.strerror}") from None
    except UnicodeDecodeError:
        raise UsageError(f"{name}: is no text in UTF-8") from None
    found = numbers.listed(text, name)
    if not found:
        raise UsageError(f"{name}: names no card")
    return Fixed(listed=found)


def _refuse(asked: argparse.Namespace, lines: Lines) -> None:
    """Raise UsageError for what does not go together."""
    if asked.practice and asked.card:
        raise UsageError(
            "--practice tests simulated cards and --card real ones: leave one out"
        )
    if not (asked.yes or lines.is_person):
        raise UsageError("nobody is here to be asked: add --yes, and stock numbers")
    if asked.no_certificates:
        if asked.key or asked.passphrase_file:
            raise UsageError("--no-certificates needs no key: leave one out")
        return
    if not asked.operator:
        raise UsageError(
            "--operator NAME is missing: it stands on each certificate "
            "(--no-certificates makes none)"
        )
    clean_name(asked.operator, "--operator")
    if asked.depth == "quick" and not asked.practice:
        raise UsageError(
            "--depth quick is never certified: leave it out, or add --no-certificates"
        )


def _key(asked: argparse.Namespace) -> SigningKey | None:
    """Return the key to sign with. Raises UsageError, KeyFileError."""
    if asked.no_certificates:
        return None
    if asked.yes and asked.key and not asked.passphrase_file:
        path = Path(asked.key)
        if keys.is_locked(keys.read_file(path)):
            raise UsageError(
                f"{named(path)}: is locked, and --yes asks nobody: name the file that "
                "holds its passphrase with --passphrase-file"
            )
    try:
        return certify.load_key(asked.key, asked.passphrase_file)
    except UsageError as error:
        raise UsageError(f"{error}; {_NO_KEY}") from None


def _try_ledger(desk: Desk) -> None:
    """Open the ledger; a server that does not answer now may do so later."""
    try:
        _ = desk.ledger
    except UnreachableError as error:
        commands.aside(
            f"cardassay: {error}; going on without: what is tested is added at the "
            "batch's next start"
        )


def _absent(number: str, problem: str) -> Batched:
    return Batched(
        stock_no=number,
        folder="",
        problem=problem,
        exit_code=int(Exit.COULD_NOT_TEST),
    )


def _most(asked: argparse.Namespace) -> int:
    """Return how many may be tested at once: one, where no turns can be taken."""
    most = sharing.at_once(_processors(), environment.available_bytes(), asked.at_once)
    why = None if most == 1 or asked.practice else turns.missing()
    if why is None:
        return most
    commands.aside(f"cardassay: one card after the other: {why}")
    return 1


def _processors() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _exit(code: int) -> Exit:
    try:
        return Exit(code)
    except ValueError:
        return Exit.BUG
