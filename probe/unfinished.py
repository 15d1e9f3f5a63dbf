"""Runs that the PC, or the program, did not survive: told, concluded, gone on with."""

import argparse
import contextlib
from pathlib import Path
from typing import TYPE_CHECKING

from probe import commands
from probe.cli import Exit
from probe.errors import HostError, UsageError
from probe.events import Closed
from probe.folder import Folder, move_aside
from probe.places import state_folder
from probe.survival import conclude, open_runs
from probe.survival.journal import Entry, JournalError, read
from probe.survival.talk import Target
from reports.errors import RecordError
from reports.text import plain

if TYPE_CHECKING:
    from probe.story import Story
    from probe.survival.bench import Bench
    from probe.survival.open_runs import CutOff
    from probe.trial import Trial


_SETTLED = (
    "claim", "claim_memory", "card", "practice", "or_practice", "depth",
    "memory_limit", "soak", "out",
)  # fmt: skip
"""Options that say what a test is."""
_MEASURING = ("patience", "load_together")
"""Options that matter only where a card is measured."""


def is_meant(asked: argparse.Namespace) -> bool:
    """Whether the command is about an earlier run."""
    return asked.conclude is not None or asked.resume is not None


def refuse_unheeded(asked: argparse.Namespace) -> None:
    """Refuse options that an earlier run settled already. Raises UsageError."""
    way = "--conclude" if asked.conclude is not None else "--resume"
    settled = _SETTLED if way == "--resume" else (*_SETTLED, *_MEASURING)
    unheeded = [
        f"--{name.replace('_', '-')}" for name in settled if name in asked.given
    ]
    if not unheeded:
        return
    if unheeded == ["--out"]:
        raise UsageError(
            f"the report of an earlier test is stored in that test's folder: name it "
            f"behind {way}, as `{way} DIR`, instead of --out"
        )
    raise UsageError(
        f"{way} is about an earlier test, as it was asked for then: leave "
        f"{', '.join(unheeded)} out, or leave {way} out and test anew"
    )


def tell_of_others(trial: "Trial") -> None:
    """Say which earlier runs were cut off.

    Raises HostError where one has to be settled first; with --yes each is concluded,
    and a new test begins.
    """
    for one in open_runs.cut_off(state_folder()):
        if one.run.practice:
            continue
        text = _told(one)
        if not trial.asked.yes:
            raise HostError(
                f"{text}\nNext: `cardassay check --conclude` makes the report of what "
                "was learnt until then; `cardassay check --resume` goes on past that "
                "point (save your work first); with --yes a new test begins."
            )
        commands.aside(f"cardassay: {text}")
        _conclude_quietly(trial, one)


def settle(trial: "Trial", bench: "Bench") -> Exit:
    """Conclude or go on with an earlier run. Raises HostError where there is none."""
    asked = trial.asked
    named = asked.conclude if asked.conclude is not None else asked.resume
    journal, restarted, mark = _which(named)
    try:
        story, seconds, entries = _retold(journal, restarted=restarted)
    except JournalError as error:
        open_runs.unmark(mark)  # it would only be offered again and again
        raise HostError(f"{error}; nothing can be learnt from it: test again") from None
    commands.aside(f"cardassay: {_line(story)}")
    if asked.conclude is not None:
        code = trial.conclude(story, seconds, journal.parent)
        _over(story, journal, mark)
        return code
    from probe.check import (  # noqa: PLC0415 - it imports this file
        accept_cautions,
        mind_the_battery,
        run_held,
    )
    from probe.survival.attempts import resumed  # noqa: PLC0415 - start-up
    from probe.trial import Earlier  # noqa: PLC0415 - start-up

    if story.card is None:
        raise HostError(
            "it ended before its card was opened: there is nothing to go on with; make "
            "its report with --conclude, and test again"
        )
    plan = resumed(story, str(journal.parent), load_together=asked.load_together)
    if plan is None:
        raise HostError(
            f"{story.identity.label}: nothing is left to be done; make its report with "
            "--conclude"
        )
    target = Target(identity=story.identity, claims=story.claims)
    if story.started.practice_condition is None:
        soak = bool(plan.soak_seconds) and "soak" not in plan.without
        mind_the_battery(plan.depth, soak=soak)
        accept_cautions(asked, [target])
    code = run_held(
        trial,
        bench,
        target,
        earlier=Earlier(
            story=story,
            entries=entries,
            plan=plan,
            seconds=seconds,
            folder=journal.parent,
        ),
    )
    open_runs.unmark(mark)
    return code


def _which(named: str) -> tuple[Path, bool, Path | None]:
    """Return the journal meant, whether the PC was started since, and its mark.

    Raises HostError where there is none.
    """
    left = open_runs.cut_off(state_folder())
    if named:
        journal = open_runs.of_folder(named)
        process = open_runs.running(state_folder(), journal)
        if process is not None:
            raise HostError(
                f"{named}: this test is still under way (process {process}); wait for "
                "its end, or stop it with Ctrl-C"
            )
        for one in left:
            if Path(one.run.journal) == journal.resolve():
                return journal, one.pc_restarted, one.mark
        return journal, open_runs.restarted_since(read(journal).started.boot), None
    if not left:
        raise HostError(
            "no run that was cut off is known here; name its folder behind the option"
        )
    return Path(left[0].run.journal), left[0].pc_restarted, left[0].mark


def _retold(
    journal: Path, *, restarted: bool
) -> "tuple[Story, float, tuple[Entry, ...]]":
    """Return the story of a journal, its age, and its facts, the end included.

    Raises RecordError, JournalError.
    """
    telling = read(journal)
    story, seconds, end = conclude.retold(telling, pc_restarted=restarted)
    entries = telling.entries
    if end is not None:
        entries = (*entries, Entry(seconds, end))
    return story, seconds, entries


def _told(one: "CutOff") -> str:
    try:
        journal = Path(one.run.journal)
        story, _, _ = _retold(journal, restarted=one.pc_restarted)
    except RecordError as error:
        return f"{plain(one.run.label)}: an earlier test did not end; {error}"
    return _line(story)


def _line(story: "Story") -> str:
    label = story.card.identity.label if story.card else story.identity.label
    went_on = story.closed and story.incidents
    what = "was cut off, and went on to its end" if went_on else "did not end"
    return f"{label}: an earlier test {what}. {conclude.said(story)}"


def _conclude_quietly(trial: "Trial", one: "CutOff") -> None:
    """Store the record and page of a run that was cut off, whatever it held."""
    journal = Path(one.run.journal)
    try:
        story, seconds, _ = _retold(journal, restarted=one.pc_restarted)
        trial.store_concluded(story, seconds, journal.parent)
    except RecordError as error:
        commands.aside(f"cardassay: {error}")
        open_runs.unmark(one.mark)
    else:
        _over(story, journal, one.mark)


def conclude_folder(trial: "Trial", folder: Path) -> bool:
    """Make the record of a run that was cut off in a folder; whether there was one.

    Raises HostError where it is still under way, RecordError where it told nothing.
    """
    if not is_cut_off(folder):
        return False
    journal, restarted, mark = _which(str(folder))
    story, seconds, _ = _retold(journal, restarted=restarted)
    trial.store_concluded(story, seconds, folder)
    _over(story, journal, mark)
    with contextlib.suppress(OSError):  # or it would be concluded again and again
        move_aside(journal)
    return True


def is_cut_off(folder: Path) -> bool:
    """Whether a journal in a folder tells of a run whose record was never made.

    Raises HostError where the run is still under way, RecordError for what is none.
    """
    place = Folder(folder).journal_path
    if not place.is_file():
        return False
    journal, _, _ = _which(str(folder))
    return not any(isinstance(one.fact, Closed) for one in read(journal).entries)


def conclude_all(trial: "Trial") -> None:
    """Make the record of every run that was cut off; say which."""
    for one in open_runs.cut_off(state_folder()):
        if not one.run.practice:
            commands.aside(f"cardassay: {_told(one)}")
            _conclude_quietly(trial, one)


def _over(story: "Story", journal: Path, mark: Path | None) -> None:
    """Forget the journal of a run that had nothing to tell but its record."""
    open_runs.unmark(mark)
    if not story.incidents:
        with contextlib.suppress(OSError):
            journal.unlink(missing_ok=True)
