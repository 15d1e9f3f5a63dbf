"""Runs told as facts, and their journals: what tests of both start from.

A practice card of 4 MiB tells a whole quick run in some sixty facts.
"""

import functools
import zlib

from probe.events import VIEWS, Sensed, Started
from probe.practice import conditions
from probe.session import Plan, Session
from probe.story import Story
from probe.survival import journal
from reports.lasting import Incident
from reports.record import Host, Program

MIB = 2**20
GIB = 2**30
SEED = zlib.crc32(b"cardassay journal 1")
"""What the first line's checksum goes on from: part of the format."""


def started(**other):
    """The first fact of a run."""
    fields = {
        "program": Program(version="0"),
        "started": "2026-11-25T12:00:00+00:00",
        "depth": "quick",
        "host": Host(system="Linux", release="6", machine="x86_64", python="3.13"),
        "practice_condition": "as-claimed",
    }
    return Started(**(fields | other))


@functools.cache
def told(condition="as-claimed", size_bytes=4 * MIB, without=(), **plan):
    """All facts of a run on a practice card, `Started` first."""
    facts = [started(practice_condition=condition)]

    def hear(event):
        if not isinstance(event, VIEWS):
            facts.append(event)

    card = conditions.open_practice(condition, size_bytes)
    asked = {"depth": "quick", "practice_condition": condition, "without": without}
    try:
        Session(card, Plan(**(asked | plan)), hear).run()
    finally:
        card.close()
    return tuple(facts)


@functools.cache
def short():
    """The facts of a run without rates and most of its readings of the sensors."""
    facts = told(without=("fp32", "fp64", "memory_read", "memory_write"))
    first = next(fact for fact in facts if isinstance(fact, Sensed))
    return tuple(one for one in facts if one is first or not isinstance(one, Sensed))


def written(facts, seed=SEED):
    """The journal of facts, one second apart."""
    lines = []
    for age, fact in enumerate(facts):
        text, seed = journal.line(fact, float(age), seed)
        lines.append(text)
    return b"".join(lines)


def story_of(facts):
    """The story after facts, the first of which is `Started`."""
    story = Story(facts[0])
    for fact in facts[1:]:
        story.apply(fact)
    return story


def until(facts, kind, **fields):
    """The facts up to the first of a kind with those fields, that one included."""
    for place, fact in enumerate(facts):
        if isinstance(fact, kind) and all(
            getattr(fact, name) == value for name, value in fields.items()
        ):
            return facts[: place + 1]
    raise LookupError(f"no {kind.__name__} with {fields}")


def incident(kind="crashed", phase="write", at_bytes=2 * GIB, **other):
    """Something that cut a run off while its memory was written."""
    fields = {
        "kind": kind,
        "phase": phase,
        "doing": "Memory, first pass: writing",
        "at_bytes": at_bytes,
        "block_bytes": 128 * MIB,
        "detail": "its process was ended by SIGSEGV",
    }
    return Incident(**(fields | other))
