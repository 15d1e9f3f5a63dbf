"""`cardassay check`: choose the card, run the session, judge, write, show."""

import argparse
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from probe import commands
from probe.cli import Exit, seconds_since_start
from probe.device import Device
from probe.errors import HostError, UsageError
from probe.events import Noted
from probe.options import VERSION
from probe.sizes import size_bytes
from reports.errors import RecordError
from reports.record import Claim, Program, Record

if TYPE_CHECKING:
    from collections.abc import Callable

    from probe.folder import Folder
    from probe.identity.cards import Found, Inventory
    from probe.progress import View
    from probe.session import Plan, Session
    from reference.table import Table

CAUTIONS = """\
Before a card of unknown make is put under load:
  - Save your work: a driver may crash or the PC may freeze.
  - Smoke or a smell: switch off at the mains, then unplug the card.
  - Never bridge or leave out a power connector that the board has.
  - Touch earthed metal before you touch the card; no work inside a running PC.
  - Electrical work follows local rules; leave repairs to those licensed for them."""


def check(asked: argparse.Namespace) -> Exit:
    """Test one card, or all; return the exit code of the worst."""
    from reference import table as tables  # noqa: PLC0415 - start-up

    table = tables.load(Path(asked.reference) if asked.reference else None)
    listing = _listing(asked, table)
    if asked.practice is not None:
        return _practice(asked, table, listing, asked.practice)
    from probe.identity import cards, select  # noqa: PLC0415 - start-up

    inventory = cards.find()
    try:
        if asked.card == "all":
            chosen = list(select.testable(inventory))
        else:
            chosen = [select.select(inventory, asked.card)]
    except HostError as error:
        if asked.or_practice and asked.card is None:
            _aside(f"cardassay: {error}")
            return _practice(asked, table, listing, "")
        return _untested(asked, table, listing, inventory, error)
    _accept_cautions(asked, chosen)
    if len(chosen) > 1 and asked.json:
        raise UsageError("--json prints one record: name one card with --card")
    codes = [_real(asked, table, listing, found, len(chosen) > 1) for found in chosen]
    return max(codes, key=_gravity)


def _gravity(code: Exit) -> int:
    order = (
        Exit.AS_CLAIMED,
        Exit.COULD_NOT_TEST,
        Exit.NOT_AS_CLAIMED,
        Exit.INTERRUPTED,
    )
    return order.index(code) if code in order else len(order)


def _listing(asked: argparse.Namespace, table: "Table") -> Claim | None:
    """Return the listing's claim. Raises UsageError for a model nobody knows."""
    memory = None
    if asked.claim_memory is not None:
        memory = size_bytes(asked.claim_memory, "--claim-memory")
    if asked.claim is None:
        if memory is None:
            return None
        return Claim(layer="listing", source="given by the user", memory_bytes=memory)
    rows = table.resolve(asked.claim)
    if not rows:
        near = table.near(asked.claim)
        offer = f"did you mean {', '.join(near)}? " if near else ""
        raise UsageError(
            f"--claim: the table has no card called {asked.claim[:80]!r}; {offer}"
            "Leave --claim out to judge the card by what it reports itself"
        )
    models = dict.fromkeys(row.model for row in rows)
    model = next(iter(models)) if len(models) == 1 else asked.claim
    return Claim(
        layer="listing", source="given by the user", model=model, memory_bytes=memory
    )


def _accept_cautions(asked: argparse.Namespace, chosen: "list[Found]") -> None:
    """Show the cautions once; a person says yes, a script says --yes."""
    if asked.yes or all(found.identity.kind == "cpu" for found in chosen):
        return
    _aside(CAUTIONS)
    if not sys.stdin.isatty():
        raise UsageError(
            "a real card is only tested once these are accepted: add --yes"
        )
    _aside("Go on? [y/N] ", end="")
    if sys.stdin.readline().strip().lower() not in {"y", "yes"}:
        raise UsageError("not accepted; nothing was tested")


def _aside(text: str, end: str = "\n") -> None:
    """Say something beside the result: standard output is for that alone."""
    sys.stderr.write(text + end)
    sys.stderr.flush()


def _practice(
    asked: argparse.Namespace, table: "Table", listing: Claim | None, name: str
) -> Exit:
    from probe.practice import conditions  # noqa: PLC0415 - start-up

    condition = conditions.find(name) if name else conditions.find(conditions.DEFAULT)
    device = conditions.open_practice(condition.name)
    return _test(asked, table, listing, device, practice=condition.name)


def _real(
    asked: argparse.Namespace,
    table: "Table",
    listing: Claim | None,
    found: "Found",
    one_of_several: bool,  # noqa: FBT001 - one of two
) -> Exit:
    from probe.identity import cards  # noqa: PLC0415 - start-up
    from probe.opencl.device import OpenCLDevice  # noqa: PLC0415 - start-up

    facts = cards.facts(found, "OpenCL events")
    assert found.opencl_device is not None
    device = OpenCLDevice(found.opencl_device, facts, found.sensors())
    below = None
    if one_of_several and asked.out:
        place = found.identity.pci_address or str(found.identity.index)
        below = place.replace(":", "-")
    return _test(asked, table, listing, device, below=below)


def _test(
    asked: argparse.Namespace,
    table: "Table",
    listing: Claim | None,
    device: Device,
    *,
    practice: str | None = None,
    below: str | None = None,
) -> Exit:
    """Run a session on an opened device and show what came of it."""
    from probe.folder import open_folder  # noqa: PLC0415 - start-up
    from probe.session import Session  # noqa: PLC0415 - start-up
    from reference.judge import judge  # noqa: PLC0415 - start-up

    label = device.facts.identity.label
    out = str(Path(asked.out) / below) if asked.out and below else asked.out
    try:
        folder = open_folder(out, label, datetime.now().astimezone())
        plan = _plan(asked, listing, practice, folder)

        def keep(session: Session) -> None:
            folder.keep(judge(session.record(unfinished=True), table))

        with _view(asked) as view:
            session = Session(
                device,
                plan,
                Program(version=VERSION),
                view,
                _tolerant(keep, view),
                seconds_since_start,
            )
            session.run()
        record = judge(session.record(), table)
    finally:
        device.close()
    return _finish(asked, record, folder)


def _plan(
    asked: argparse.Namespace,
    listing: Claim | None,
    practice: str | None,
    folder: "Folder",
) -> "Plan":
    from probe.session import Plan  # noqa: PLC0415 - start-up

    limit = None
    if asked.memory_limit is not None:
        limit = size_bytes(asked.memory_limit, "--memory-limit")
    return Plan(
        depth=asked.depth,
        listing=listing,
        limit_bytes=limit,
        practice_condition=practice,
        folder=str(folder.path),
    )


def _view(asked: argparse.Namespace) -> "View":
    from probe.progress import watcher  # noqa: PLC0415 - start-up

    silent = asked.json or asked.quiet
    return watcher(commands.make_console(), "silent" if silent else "auto")


def _tolerant(
    keep: "Callable[[Session], None]", view: "View"
) -> "Callable[[Session], None]":
    """Wrap the storing between phases: a full disk must not end the run."""
    complained = False

    def store(session: "Session") -> None:
        nonlocal complained
        try:
            keep(session)
        except RecordError as error:
            if not complained:
                complained = True
                view(Noted(text=f"not stored: {error}; going on"))

    return store


def _finish(asked: argparse.Namespace, record: Record, folder: "Folder") -> Exit:
    """Store record and page, show the result."""
    from reports import codec, terminal  # noqa: PLC0415 - start-up

    code = commands.outcome_code(record)
    problem = None
    try:
        data = folder.finish(record)
    except RecordError as error:
        problem = error
        data = codec.encode(record)
    console = commands.make_console()
    if asked.json:
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
    elif asked.quiet:
        sentence = terminal.encodable(terminal.sentence_of(record), console.encoding)
        console.print(sentence, soft_wrap=True)
    else:
        page = None if problem else str(folder.page_path)
        console.print(terminal.render_result(record, console.width, page=page))
    if problem is not None:
        raise _rescued(data, problem)
    return code


def _rescued(data: bytes, problem: RecordError) -> HostError:
    """Store the record where there may still be room; say where."""
    import tempfile  # noqa: PLC0415 - rare

    from reports import codec  # noqa: PLC0415 - rare

    place = Path(tempfile.mkdtemp(prefix="cardassay-")) / "record.json"
    try:
        codec.save(data, place)
    except RecordError:
        return HostError(f"{problem}; free some space and test again")
    return HostError(f"{problem}; the record is kept as {place} instead")


def _untested(
    asked: argparse.Namespace,
    table: "Table",
    listing: Claim | None,
    inventory: "Inventory",
    error: HostError,
) -> Exit:
    """Report a card that only the bus shows: claims without measurements.

    Raises the error itself where there is no such card, or more than one.
    """
    from probe import environment  # noqa: PLC0415 - start-up
    from probe.folder import open_folder  # noqa: PLC0415 - start-up
    from reference.judge import judge  # noqa: PLC0415 - start-up

    silent = [
        card
        for card in inventory.cards
        if card.identity.kind == "gpu" and card.opencl_device is None
    ]
    if len(silent) != 1 or asked.card == "cpu":
        raise error
    card = silent[0]
    folder = open_folder(asked.out, card.identity.label, datetime.now().astimezone())
    claims = card.claims if listing is None else (listing, *card.claims)
    record = Record(
        program=Program(version=VERSION),
        practice=False,
        started=environment.now_utc(),
        seconds=seconds_since_start(),
        depth=asked.depth,
        host=environment.host(),
        card=card.identity,
        claims=claims,
    )
    _aside(f"cardassay: {error}")
    _finish(asked, judge(record, table), folder)
    return Exit.COULD_NOT_TEST
