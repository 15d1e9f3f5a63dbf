"""One test of one card: the session, its judgement, its documents, its result.

The same for real and simulated cards. Chooses no card and parses no option: that is
`check.py`'s; measures nothing: that is `session.py`'s.
"""

import argparse
import contextlib
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from probe import commands, environment
from probe.cli import Exit, seconds_since_start
from probe.device import Device
from probe.errors import CardError, HostError
from probe.events import Event, Noted, Watcher
from probe.folder import Folder, open_folder
from probe.identity.cards import Found
from probe.options import VERSION
from probe.progress import View, watcher
from probe.session import REASON_LIMIT, Plan, Session
from reference.judge import judge
from reference.table import Table
from reports import codec, terminal, words
from reports.errors import RecordError
from reports.record import Claim, Phase, Program, Record
from reports.text import plain


@dataclass(frozen=True, kw_only=True)
class Trial:
    """What all tests of one command share."""

    asked: argparse.Namespace
    table: Table
    listing: Claim | None
    limit_bytes: int | None

    def run(
        self, device: Device, *, practice: str | None = None, below: str | None = None
    ) -> Exit:
        """Test an opened device, close it, store and show what came of it.

        `below` names a folder of its own within what was asked for. Raises UsageError,
        HostError where the documents cannot be stored.
        """
        try:
            folder = self._folder(device.facts.identity.label, below)
            try:
                record = self._session(device, folder, practice)
            finally:
                folder.close()
        finally:
            device.close()
        return self._finish(record, folder)

    def claims_only(
        self, found: Found, error: HostError | CardError, below: str | None = None
    ) -> Exit:
        """Store and show what is said of a card that cannot be tested, and why not."""
        claims = found.claims
        if self.listing is not None:
            claims = (self.listing, *claims)
        reason = plain(str(error), REASON_LIMIT)
        unopened = Phase(
            name="start",
            outcome="failed",
            started_seconds=0.0,
            seconds=0.0,
            detail=reason,
        )
        record = Record(
            program=Program(version=VERSION),
            practice=False,
            started=environment.now_utc(),
            seconds=seconds_since_start(),
            depth=self.asked.depth,
            host=environment.host(),
            card=found.identity,
            claims=claims,
            phases=(unopened,),
        )
        folder = self._folder(found.identity.label, below)
        folder.close()
        commands.aside(f"cardassay: {error}")
        self._finish(judge(record, self.table), folder)
        return Exit.COULD_NOT_TEST

    def _folder(self, label: str, below: str | None) -> Folder:
        out = self.asked.out
        if below is not None:
            out = None if out is None else str(Path(out) / below)
            label = f"{label} {below}"
        return open_folder(out, label, datetime.now().astimezone())

    def _session(self, device: Device, folder: Folder, practice: str | None) -> Record:
        plan = Plan(
            depth=self.asked.depth,
            listing=self.listing,
            limit_bytes=self.limit_bytes,
            practice_condition=practice,
            folder=str(folder.path),
        )
        with _view(self.asked) as view:
            watch = _deaf(view)
            session = Session(
                device,
                plan,
                Program(version=VERSION),
                watch,
                _tolerant(folder, self.table, watch),
                seconds_since_start,
            )
            try:
                session.run()
                return judge(session.record(), self.table)
            except Exception:  # a bug of ours: it must not cost what was learnt
                with contextlib.suppress(Exception):
                    _salvage(session, folder, self.table)
                raise

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


def _view(asked: argparse.Namespace) -> View:
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


def _tolerant(
    folder: Folder, table: Table, watch: Watcher
) -> Callable[[Session], None]:
    """Return what stores the record between phases, and lets a full disk pass."""
    complained = False

    def store(session: Session) -> None:
        nonlocal complained
        try:
            folder.keep(judge(session.record(unfinished=True), table))
        except RecordError as error:
            if not complained:
                complained = True
                watch(Noted(text=f"not stored: {error}; going on"))

    return store


def _salvage(session: Session, folder: Folder, table: Table) -> None:
    """Store what a run had learnt when a bug ended it."""
    record = session.record(unfinished=True)
    with contextlib.suppress(Exception):
        record = judge(record, table)
    folder.store_page(record, folder.store(record))


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
