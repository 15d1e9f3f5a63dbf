"""`cardassay rejudge`: an old record judged again with today's table. No card needed.

Reads, has it judged, shows what changed. The old record is never written over: what
was concluded at the time is part of the evidence.
"""

import argparse
import sys
from pathlib import Path

from msgspec.structs import replace

from probe import commands
from probe.cli import Exit
from probe.errors import UsageError
from reference import table as tables
from reference.judge import judge
from reports import codec
from reports.page import record_bytes
from reports.rejudged import compare, encode_rejudged, render_rejudged


def rejudge(asked: argparse.Namespace) -> Exit:
    """Judge a record again, or the one that a page carries; return its new code.

    Raises UsageError, RecordError, TableError.
    """
    path, out = Path(asked.record), Path(asked.out) if asked.out else None
    if out is not None and _same(path, out):
        raise UsageError(
            "--out: this is the record itself, which stays as it is; name another file"
        )
    before = codec.decode(record_bytes(codec.read(path), asked.record), asked.record)
    table = tables.load(Path(asked.reference) if asked.reference else None)
    after = judge(before, table)
    if out is not None:
        codec.save(codec.encode(after), out)
    view = compare(before, after)
    if asked.json:
        sys.stdout.buffer.write(encode_rejudged(view))
        sys.stdout.buffer.flush()
    else:
        console = commands.make_console()
        console.print(render_rejudged(view, console.width))
    return commands.outcome_code(replace(after, interrupted=False))


def _same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return False
