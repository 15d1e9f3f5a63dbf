"""Journals of runs, and what the measuring process says: seeds, mutators, what is done.

A journal's checksums are made true again after a change, so that it reaches what lies
behind them; so is the length of a frame.
"""

import io
import json
import zlib
from functools import cache
from random import Random

import msgspec
from fuzz import mutators

from probe.events import VIEWS, Ended, Started, Troubled
from probe.practice import conditions
from probe.session import Plan, Session
from probe.survival import conclude, journal, talk
from reports import codec
from reports.lasting import Incident
from reports.record import Host, Program

STARTED = Started(
    program=Program(version="0"),
    started="2026-11-25T12:00:00+00:00",
    depth="quick",
    host=Host(system="Linux", release="6", machine="x86_64", python="3"),
)
_MOST = 40


@cache
def facts() -> tuple:
    """Return what a practice run told, thinned out, a crash behind it."""
    heard = []
    card = conditions.open_practice("mirrored")
    Session(card, Plan(depth="quick"), heard.append).run()
    card.close()
    seen: dict[type, int] = {}
    kept = []
    for fact in heard:
        seen[type(fact)] = seen.get(type(fact), 0) + 1
        if not isinstance(fact, VIEWS) and seen[type(fact)] <= _MOST // 10:
            kept.append(fact)
    crash = Incident(kind="crashed", phase="memory", doing="writing", at_bytes=2**31)
    return (STARTED, *kept, Troubled(incident=crash), Ended())


def bound(bodies: list[bytes]) -> bytes:
    """Return lines with true checksums."""
    before, lines = journal._SEED, []
    for body in bodies:
        before = zlib.crc32(body, before)
        lines.append(b"%08x " % before + body)
    return b"".join(lines)


@cache
def seeds() -> list[bytes]:
    """Return a whole journal, and one cut off at each fifth line."""
    bodies = [
        b"%.3f " % age + msgspec.json.encode(one) + b"\n"
        for age, one in enumerate(facts())
    ]
    cuts = range(1, len(bodies), 5)
    return [bound(bodies), *(bound(bodies[:cut]) for cut in cuts)]


def mutate(data: bytes, rnd: Random) -> bytes:
    """Change facts, their order or their number; now and then the bare bytes."""
    if rnd.random() < 0.15:
        return mutators.blind(data, rnd)
    bodies = [line[9:] for line in data.splitlines(keepends=True)] or [b"\n"]
    for _ in range(rnd.choice((1, 1, 2, 4))):
        at = rnd.randrange(len(bodies))
        match rnd.randrange(8):
            case 0:
                del bodies[at]
            case 1:
                bodies[at:at] = [bodies[at]] * rnd.choice((1, 2, 20))
            case 2:
                bodies.insert(at, rnd.choice(bodies))
            case 3:
                rnd.shuffle(bodies)
            case _:
                age, _, fact = bodies[at].rstrip(b"\n").partition(b" ")
                if rnd.random() < 0.1:
                    age = rnd.choice(
                        (b"nan", b"inf", b"-1", b"1e308", b"0", b"", b"9" * 5000)
                    )
                bodies[at] = age + b" " + _fact(fact, rnd).replace(b"\n", b" ") + b"\n"
        if not bodies:
            bodies = [b"0 {}\n"]
    return bound(bodies)[: mutators.MOST]


def _fact(fact: bytes, rnd: Random) -> bytes:
    """Change a fact, mostly in its figures: most other changes end the reading."""
    if rnd.random() < 0.4:
        return mutators.json_text(fact, rnd)
    try:
        tree = json.loads(fact, object_pairs_hook=mutators.Pairs)
    except (ValueError, RecursionError):
        return fact
    places = list(_numbers(tree))
    if places:
        parent, key = rnd.choice(places)
        value = mutators.scalar(rnd)
        mutators._set(parent, key, value)
    return mutators.dump(tree)


def _numbers(node):
    if not isinstance(node, list):
        return
    for key in range(len(node)):
        value = mutators._get(node, key)
        if isinstance(value, int | float) and not isinstance(value, bool):
            yield node, key
        yield from _numbers(value)


def concluded(data: bytes) -> None:
    """Read a journal and conclude it, as after a crash: a record that can be stored."""
    telling = journal.parse(data)
    for restarted in (False, True):
        story, seconds, _ = conclude.retold(telling, pc_restarted=restarted)
        conclude.said(story)
        codec.encode(story.record(seconds))


@cache
def frames() -> list[bytes]:
    """Return what a measuring process says, framed."""
    stream = io.BytesIO()
    for fact in facts()[:12]:
        talk.send(stream, fact)
    return [stream.getvalue()]


def heard(data: bytes) -> None:
    """Hear a measuring process out, as its parent does."""
    stream = io.BytesIO(data)
    while (body := talk.receive(stream)) is not None:
        talk.words.decode(body)


def mutate_frames(data: bytes, rnd: Random) -> bytes:
    """Change a message and make its length true again, or the bare bytes."""
    if rnd.random() < 0.3:
        return mutators.blind(data, rnd)
    stream, made, bodies = io.BytesIO(data), io.BytesIO(), []
    try:
        while (body := talk.receive(stream)) is not None:
            bodies.append(body)
    except talk.BabbleError:
        return mutators.blind(data, rnd)
    at = rnd.randrange(len(bodies) + 1)
    for number, body in enumerate(bodies):
        text = _message(body, rnd) if number == at else body
        made.write(len(text).to_bytes(4, "little") + text)
    return made.getvalue()


def _message(body: bytes, rnd: Random) -> bytes:
    if rnd.random() < 0.3:
        return rnd.choice(
            (b"\x91" * 50_000, b"\x81\xa1x" * 20_000, mutators.blind(body, rnd))
        )
    try:
        text = mutators.json_text(
            msgspec.json.encode(msgspec.msgpack.decode(body)), rnd
        )
        return msgspec.msgpack.encode(msgspec.json.decode(text))
    except (msgspec.MsgspecError, ValueError, OverflowError, RecursionError, TypeError):
        return mutators.blind(body, rnd)
