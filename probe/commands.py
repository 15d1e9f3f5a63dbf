"""What each command does. Returns exit codes, raises our errors, prints results."""

import argparse
import sys
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from probe.cli import Exit

if TYPE_CHECKING:
    from rich.console import Console

    from probe.identity.cards import Inventory
    from reports.listing import Listing
    from reports.record import Record

_LINE = 4000
_ELSEWHERE = {
    "check": "check",
    "lookup": "lookup",
    "rejudge": "rejudge",
    "firmware": "firmware",
    "inspect": "inspection",
    "key": "certify",
    "certify": "certify",
    "verify": "certify",
    "ledger": "ledger",
    "evidence": "evidence",
    "batch": "batch.command",
    "compare": "compare",
}
"""In which module a command's function of the same name is: imported when it is run."""
_OUTCOMES = {
    "as claimed": Exit.AS_CLAIMED,
    "not as claimed": Exit.NOT_AS_CLAIMED,
    "faulty": Exit.NOT_AS_CLAIMED,
    "undetermined": Exit.COULD_NOT_TEST,
}


def run(command: str, asked: object) -> Exit:
    """Run a command by its name. Raises our errors."""
    assert isinstance(asked, argparse.Namespace)
    if command in _ELSEWHERE:
        module = import_module(f"probe.{_ELSEWHERE[command]}")
        return Exit(getattr(module, command)(asked))
    return {"list": list_cards, "show": show, "schema": schema}[command](asked)


def list_cards(asked: argparse.Namespace) -> Exit:
    """Show every card, and what each layer says of it.

    A driver that crashes or hangs when it is asked does so in a process of its own.
    """
    from probe.survival import benches  # noqa: PLC0415 - start-up
    from probe.survival.bench import PATIENCE_SECONDS  # noqa: PLC0415 - start-up
    from reports import listing  # noqa: PLC0415 - start-up

    with benches.open_bench(PATIENCE_SECONDS) as bench:
        view = bench.listing()
    if asked.json:
        sys.stdout.buffer.write(listing.encode_inventory(view))
    else:
        console = make_console()
        console.print(listing.render_inventory(view, console.width))
    gpus = [card for card in view.cards if card.identity.kind == "gpu"]
    return Exit.AS_CLAIMED if gpus else Exit.COULD_NOT_TEST


def show(asked: argparse.Namespace) -> Exit:
    """Show a stored record, or the one that a page carries; write its page if asked."""
    from reports import codec  # noqa: PLC0415 - start-up
    from reports.page import record_bytes, render_page  # noqa: PLC0415 - start-up
    from reports.terminal import render_result  # noqa: PLC0415 - start-up

    data = record_bytes(codec.read(Path(asked.record)), asked.record)
    record = codec.decode(data, asked.record)
    console = make_console()
    console.print(render_result(record, console.width))
    if asked.page:
        codec.save(render_page(record, data).encode(), Path(asked.page))
    return outcome_code(record)


def schema(_: argparse.Namespace) -> Exit:
    """Print the JSON Schema of a record."""
    import json  # noqa: PLC0415 - start-up

    from reports import codec  # noqa: PLC0415 - start-up

    sys.stdout.write(json.dumps(codec.json_schema(), indent=1) + "\n")
    return Exit.AS_CLAIMED


def outcome_code(record: "Record") -> Exit:
    """Return the exit code of a judged record."""
    if record.interrupted:
        return Exit.INTERRUPTED
    if record.verdict is None:
        return Exit.COULD_NOT_TEST
    return _OUTCOMES[record.verdict.outcome]


def make_console() -> "Console":
    """Return the console for results: no markup, no guessing of numbers or paths.

    Where its reader has gone it raises BrokenPipeError; rich's own would end the
    program with 1, which here means "not as claimed".
    """
    from rich.console import Console  # noqa: PLC0415 - start-up

    class Honest(Console):
        def on_broken_pipe(self) -> None:
            raise BrokenPipeError

    return Honest(markup=False, highlight=False, emoji=False, soft_wrap=False)


def aside(text: str, end: str = "\n") -> None:
    """Say something beside the result: standard output is for that alone.

    What a driver or a path put into it is made harmless, line by line.
    """
    import re  # noqa: PLC0415 - start-up

    from reports.text import plain  # noqa: PLC0415 - start-up

    lines = [line[:_LINE].rstrip("\r") for line in text.split("\n")]
    safe = "\n".join(
        re.sub("[^ ]+", lambda word: plain(word[0], _LINE), line) for line in lines
    )
    sys.stderr.write(safe + end)
    sys.stderr.flush()


def as_listing(inventory: "Inventory") -> "Listing":
    """Return an inventory as plain data for `reports/listing.py`."""
    from probe.identity.disagreements import disagreements  # noqa: PLC0415 - start-up
    from reports.listing import ListedCard, Listing  # noqa: PLC0415 - start-up

    return Listing(
        cards=tuple(
            ListedCard(
                identity=card.identity,
                claims=card.claims,
                disagreements=disagreements(card.claims),
                notes=card.notes,
                testable=card.opencl_device is not None,
            )
            for card in inventory.cards
        ),
        notes=inventory.notes,
    )
