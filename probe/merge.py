"""What is learnt of a card apart from a test, put into its record and judged anew.

A firmware's read and a person's look are layers of a record; where there is no record
yet one is made of what is claimed. The record that was read is never written over: what
was concluded at the time is part of the evidence.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from msgspec.structs import replace

from probe import environment
from probe.errors import UsageError
from probe.options import VERSION
from reference.judge import judge
from reference.table import Table
from reports import codec
from reports.inspection import MOST_PHOTOS, Inspection
from reports.page import record_bytes, render_page
from reports.record import CardIdentity, Claim, Phase, Program, Record

UNSEEN: Final = CardIdentity(label="a card outside a PC", kind="gpu", index=0)
_NEVER: Final = "no test was run"


def read_record(name: str) -> Record:
    """Return a stored record, or the one that a page carries. Raises RecordError."""
    return codec.decode(record_bytes(codec.read(Path(name)), name), name)


def bare_record(
    listing: Claim | None,
    identity: CardIdentity = UNSEEN,
    claims: Sequence[Claim] = (),
) -> Record:
    """Return the record of a card that was not tested, unjudged."""
    told = (listing,) if listing is not None else ()
    return Record(
        program=Program(version=VERSION),
        practice=False,
        started=environment.now_utc(),
        depth="quick",
        host=environment.host(),
        card=identity,
        claims=(*told, *claims),
        phases=(
            Phase(
                name="start",
                outcome="skipped",
                started_seconds=0.0,
                seconds=0.0,
                detail=_NEVER,
            ),
        ),
    )


def merged(old: Inspection | None, new: Inspection) -> Inspection:
    """Return an earlier look with a later one over it: what was seen anew counts.

    Raises UsageError where that is more photos than a record holds.
    """
    if old is None:
        return new
    told = {
        name: getattr(new, name)
        for name in new.__struct_fields__
        if name != "photos" and getattr(new, name) is not None
    }
    if new.die is not None and new.die_surface is None:
        told["die_surface"] = None
    if new.die_surface == "unreadable":
        told["die"] = None
    photos = {one.sha256: one for one in (*old.photos, *new.photos)}
    if len(photos) > MOST_PHOTOS:
        raise UsageError(f"--photo: a record holds up to {MOST_PHOTOS} photos")
    return replace(old, **told, photos=tuple(photos.values()))


def store(record: Record, table: Table, out: str | None, page: str | None) -> Record:
    """Judge a record, write it and its page where asked. Raises RecordError."""
    judged = judge(record, table)
    data = codec.encode(judged)
    if out is not None:
        codec.save(data, Path(out))
    if page is not None:
        codec.save(render_page(judged, data).encode(), Path(page))
    return judged


def spare(record: str | None, *written: str | None) -> None:
    """Raise UsageError where what is to be written is the record that is read."""
    for name in written:
        if record is not None and name is not None and _same(record, name):
            raise UsageError(
                "--out: this is the record itself, which stays as it is; name another "
                "file"
            )


def _same(one: str, other: str) -> bool:
    try:
        return Path(one).samefile(other)
    except (OSError, ValueError):
        return False
