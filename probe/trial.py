"""One test of one card: its journal, its story, its judgement, its documents.

The same for real and simulated cards. Chooses no card and parses no option: that is
`check.py`'s; measures nothing: that is `session.py`'s, in a process of its own where
the card is real (`probe/survival/`).
"""

import argparse
import contextlib
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from msgspec.structs import replace

from probe import commands, environment
from probe.cli import Exit, seconds_since_start
from probe.errors import CardError, HostError
from probe.events import (
    RISKY,
    SHOWN,
    Closed,
    Event,
    Noted,
    Opened,
    PhaseEnded,
    Started,
    Watcher,
)
from probe.folder import Folder, open_folder
from probe.options import VERSION
from probe.places import state_folder
from probe.plan import Plan
from probe.progress import View, watcher
from probe.relay import EventLines
from probe.sensing import REASON_LIMIT
from probe.story import Story
from probe.survival import open_runs
from probe.survival.interrupts import counted
from probe.survival.journal import Entry, Journal
from probe.survival.parent import Keep
from probe.survival.talk import Target
from reference.judge import judge
from reference.table import Table
from reports import codec, terminal, words
from reports.errors import RecordError
from reports.record import Claim, Phase, Program, Record
from reports.text import plain

Measuring = Callable[[Plan, Story, Keep, Keep], None]
"""Runs a plan: every fact is kept, applied to the story, and shown."""


@dataclass(frozen=True, kw_only=True)
class Earlier:
    """What is known of a run that is gone on with."""

    story: Story
    entries: tuple[Entry, ...]
    """Everything that its journal told, its end included."""
    plan: Plan
    seconds: float
    folder: Path


@dataclass(frozen=True, kw_only=True)
class Trial:
    """What all tests of one command share."""

    asked: argparse.Namespace
    table: Table
    listing: Claim | None
    limit_bytes: int | None
    soak_seconds: float | None

    def run(
        self,
        target: Target,
        measure: Measuring,
        *,
        practice: str | None = None,
        below: str | None = None,
        earlier: Earlier | None = None,
    ) -> Exit:
        """Test a card, store and show what came of it.

        `below` names a folder of its own within what was asked for. Raises UsageError,
        HostError where the documents cannot be stored.
        """
        with counted() as stops:  # whatever is learnt is stored whole
            code = self._run(target, measure, practice, below, earlier)
            return Exit.INTERRUPTED if stops() else code

    def _run(
        self,
        target: Target,
        measure: Measuring,
        practice: str | None,
        below: str | None,
        earlier: Earlier | None,
    ) -> Exit:
        out = str(earlier.folder) if earlier else self.asked.out
        folder = self._folder(target.identity.label, below, out)
        story = earlier.story if earlier else self._story(target, practice)
        run = _Run(self, folder, story, earlier)
        try:
            with run.journal:
                record = run.through(measure, self._plan(practice, folder, earlier))
        except (HostError, CardError) as error:
            if story.card is not None:
                raise
            run.forget()
            return self.claims_only(target, error, below, folder)
        finally:
            folder.close()
        try:
            code = self._finish(record, folder)
        except OSError:  # stored; it could not be shown
            run.over()
            raise
        run.over()
        return code

    def conclude(self, story: Story, seconds: float, place: Path) -> Exit:
        """Make the documents of a run that was cut off, in its own folder.

        The run was, this command was not: the exit code is the verdict's.
        """
        record, folder = self._concluded(story, seconds), Folder(place)
        with counted():
            folder.tidy()
            self._finish(record, folder)
        return commands.outcome_code(replace(record, interrupted=False))

    def store_concluded(self, story: Story, seconds: float, place: Path) -> None:
        """Make them and show nothing. Raises RecordError."""
        folder = Folder(place)
        folder.tidy()
        record = self._concluded(story, seconds)
        folder.store_page(record, folder.store(record))

    def _concluded(self, story: Story, seconds: float) -> Record:
        unfinished = not story.is_over
        return judge(story.record(seconds, unfinished=unfinished), self.table)

    def claims_only(
        self,
        target: Target,
        error: HostError | CardError,
        below: str | None = None,
        folder: Folder | None = None,
    ) -> Exit:
        """Store and show what is said of a card that cannot be tested, and why not."""
        story = self._story(target, None)
        story.phases.append(
            Phase(
                name="start",
                outcome="failed",
                started_seconds=0.0,
                seconds=0.0,
                detail=plain(str(error), REASON_LIMIT),
            )
        )
        record = story.record(seconds_since_start())
        if folder is None:
            folder = self._folder(target.identity.label, below, self.asked.out)
        folder.close()
        commands.aside(f"cardassay: {error}")
        return self._finish(judge(record, self.table), folder)

    def _story(self, target: Target, practice: str | None) -> Story:
        started = Started(
            program=Program(version=VERSION),
            started=environment.now_utc(),
            depth=self.asked.depth,
            host=environment.host(),
            listing=self.listing,
            limit_bytes=self.limit_bytes,
            practice_condition=practice,
            boot=open_runs.this_boot(),
            soak_seconds=self.soak_seconds,
            identity=target.identity,
            claims=target.claims,
        )
        return Story(started)

    def _plan(
        self, practice: str | None, folder: Folder, earlier: Earlier | None
    ) -> Plan:
        if earlier is not None:
            return earlier.plan
        return Plan(
            depth=self.asked.depth,
            limit_bytes=self.limit_bytes,
            practice_condition=practice,
            soak_seconds=self.soak_seconds,
            load_together=self.asked.load_together,
            folder=str(folder.path),
        )

    def _folder(self, label: str, below: str | None, out: str | None) -> Folder:
        if below is not None:
            out = None if out is None else str(Path(out) / below)
            label = f"{label} {below}"
        return open_folder(out, label, datetime.now().astimezone())

    def _finish(self, record: Record, folder: Folder) -> Exit:
        """Store record and page, show the result."""
        page: str | None = None
        problem: HostError | None = None
        try:
            data = folder.store(record)
            folder.store_page(record, data)
            page = str(folder.page_path)
        except RecordError as error:
            data = codec.encode(record)
            problem = _rescued(data, error, folder)
        with contextlib.suppress(BrokenPipeError):  # stored; nobody listens any more
            self._show(record, data, page)
        if problem is not None:
            raise problem
        return commands.outcome_code(record)

    def _show(self, record: Record, data: bytes, page: str | None) -> None:
        if self.asked.events:  # whoever watches reads the record itself
            return
        if self.asked.json:
            sys.stdout.buffer.write(data)
            sys.stdout.buffer.flush()
            return
        console = commands.make_console()
        if self.asked.quiet:
            line = terminal.sentence_of(record)
            if record.practice:
                line = f"{words.practice(record.practice_condition or '')} {line}"
            line = terminal.encodable(line, console.encoding)
            console.print(line, soft_wrap=True)
            return
        console.print(terminal.render_result(record, console.width, page=page))


class _Run:
    """The run itself: what is told is written down, put together, shown, stored."""

    def __init__(
        self, trial: Trial, folder: Folder, story: Story, earlier: Earlier | None
    ) -> None:
        self.trial, self.folder, self.story = trial, folder, story
        self._before = earlier.seconds if earlier else 0.0
        simulated = story.started.practice_condition is not None
        self.journal = Journal(folder.journal_path, safe=not simulated)
        self._mark = open_runs.mark(
            state_folder(),
            folder.journal_path,
            story.identity.label,
            practice=simulated,
        )
        self._complained = False
        self._watch: Watcher = lambda _: None
        told = earlier.entries if earlier else (Entry(0.0, story.started),)
        for entry in told:
            self.journal.write(entry.fact, entry.seconds)
        self.journal.sync()  # the PC may not survive the card's opening

    @property
    def seconds(self) -> float:
        """The run's age, an earlier part of it included."""
        return self._before + seconds_since_start()

    def through(self, measure: Measuring, plan: Plan) -> Record:
        """Measure to the end, whatever that is, and judge."""
        with _view(self.trial.asked) as view:
            self._watch = _deaf(view)
            try:
                measure(plan, self.story, self._keep, self._show)
            except (HostError, CardError):
                raise
            except Exception:  # a bug of ours: it must not cost what was learnt
                with contextlib.suppress(Exception):
                    self._salvage()
                raise
            self._keep(Closed())
        return judge(self.story.record(self.seconds), self.trial.table)

    def over(self) -> None:
        """Forget the journal of a run that is stored and had nothing to tell."""
        open_runs.unmark(self._mark)
        if not self.story.incidents:
            self.forget()

    def forget(self) -> None:
        """Remove the journal."""
        open_runs.unmark(self._mark)
        self.journal.close()
        with contextlib.suppress(OSError):
            self.folder.journal_path.unlink(missing_ok=True)

    def _keep(self, fact: Event) -> None:
        self.journal.write(fact, self.seconds)
        if isinstance(fact, RISKY):
            self.journal.sync()

    def _show(self, event: Event) -> None:
        if isinstance(event, SHOWN):
            self._watch(event)
        if isinstance(event, PhaseEnded | Opened):
            self._store()
        if self.journal.problem is not None:
            self._complain(self.journal.problem)

    def _store(self) -> None:
        """Store the record as it stands; a full disk does not end the run."""
        record = self.story.record(self.seconds, unfinished=True)
        try:
            self.folder.keep(judge(record, self.trial.table))
        except RecordError as error:
            self._complain(str(error))

    def _complain(self, problem: str) -> None:
        if not self._complained:
            self._complained = True
            self._watch(Noted(text=f"not stored: {problem}; going on"))

    def _salvage(self) -> None:
        """Store what a run had learnt when a bug ended it."""
        record = self.story.record(self.seconds, unfinished=True)
        with contextlib.suppress(Exception):
            record = judge(record, self.trial.table)
        self.folder.store_page(record, self.folder.store(record))


def _view(asked: argparse.Namespace) -> View:
    if asked.events:
        return EventLines(sys.stdout.buffer)
    silent = asked.json or asked.quiet
    return watcher(commands.make_console(), "silent" if silent else "auto")


def _deaf(view: View) -> Watcher:
    """Return a watcher that falls silent where its reader has gone.

    `check | head -1` must neither end the run nor spoil its record.
    """
    gone = False

    def watch(event: Event) -> None:
        nonlocal gone
        if gone:
            return
        try:
            view(event)
        except OSError:
            gone = True

    return watch


def _rescued(data: bytes, problem: RecordError, folder: Folder) -> HostError:
    """Return what to say of a failed storing; put the record where there is room."""
    import tempfile  # noqa: PLC0415 - rare

    with contextlib.suppress(OSError):
        if folder.record_path.read_bytes() == data:
            return HostError(f"{problem}; the record is in {folder.record_path}")
    place = None
    try:
        place = Path(tempfile.mkdtemp(prefix="cardassay-")) / "record.json"
        codec.save(data, place)
    except (OSError, RecordError):
        with contextlib.suppress(OSError):
            if place is not None:
                place.parent.rmdir()
        return HostError(f"{problem}; free some space and test again")
    return HostError(f"{problem}; the record is kept as {place} instead")
