"""What a card is good for now: each kind of work held against what was measured.

Pure: a record and the table in, answers out. A figure that was not measured answers
nothing. More memory or more speed never turns a yes into anything less.
"""

from typing import Final

from reference import use_drivers, use_words
from reference.rows import Architecture, Chip
from reference.table import Table
from reference.use_figures import Figures, build_of, figures_of
from reference.use_needs import WORKS, Level, Work
from reference.use_sources import SOURCES
from reports.record import Record
from reports.uses import Answer, Use

_WORST: Final[tuple[Answer, ...]] = ("no", "not measured", "with limits", "yes")
"""What a kind of work comes to: the first of these that one of its figures gives."""


def uses_of(record: Record, table: Table | None = None) -> tuple[Use, ...]:
    """Return every kind of work with its answer, the everyday ones first.

    With a table, what is published of the chip's kind counts as well: sockets, drivers,
    renderers. Where the card has an obstacle, every answer is no, for that reason.
    """
    figures = figures_of(record, table)
    build = build_of(record, table) if table else None
    found = [_use(work, figures, build) for work in WORKS]
    support = _support(figures, build)
    return (*found, support) if support else tuple(found)


def _use(work: Work, figures: Figures, build: tuple[Chip, Architecture] | None) -> Use:
    given = _barred(figures) or _answered(work, figures, build)
    return Use(
        name=work.name,
        title=work.title,
        answer=given[0],
        because=given[1],
        needs=work.needs,
        sources=tuple(SOURCES[key].line for key in work.sources),
    )


def _barred(figures: Figures) -> tuple[Answer, str] | None:
    """Return the one answer to everything, where there is one."""
    if not figures.is_card:
        return "not measured", use_words.NO_CARD
    return ("no", figures.obstacle) if figures.obstacle else None


def _answered(
    work: Work, figures: Figures, build: tuple[Chip, Architecture] | None
) -> tuple[Answer, str]:
    if work.shown and figures.sockets is False:
        return "no", use_words.NO_SOCKET
    answers = {level: _level(level, figures) for level in work.levels}
    unseen = work.shown and figures.sockets is None
    limits = _limits(work, figures, build)
    every = {*answers.values(), *(["with limits"] if unseen or limits else [])}
    answer = next(one for one in _WORST if one in every)
    said = use_words.told(answers, figures, answer)
    if answer in {"no", "not measured"}:
        return answer, f"{said}."
    first = f"{said}, {use_words.IF_SOCKET}." if unseen else f"{said}."
    wide = (use_words.WIDE,) if work.wide else ()
    further = use_words.further(work, figures)
    return answer, " ".join((first, *limits, *wide, *further))


def _level(level: Level, figures: Figures) -> Answer:
    """Return what one figure answers; memory not tested may still be there."""
    memory = level.of == "memory"
    value = figures.proven_bytes if memory else figures.rates.get(level.of)
    if value is None:
        return "not measured"
    if value >= level.full:
        return "yes"
    if level.least is None or value >= level.least:
        return "with limits"
    untested = memory and figures.upper_bytes >= level.least
    return "not measured" if untested else "no"


def _limits(
    work: Work, figures: Figures, build: tuple[Chip, Architecture] | None
) -> tuple[str, ...]:
    """Return what else limits a kind of work, a sentence each."""
    found = []
    if figures.shares_memory and any(level.of == "memory" for level in work.levels):
        found.append(use_words.SHARED)
    if work.rendered and build is None:
        found.append(use_words.CHIP_UNKNOWN)
    elif work.rendered and build and not use_drivers.renders(*build):
        found.append(use_words.OLD_CHIP)
    return tuple(found)


def _support(figures: Figures, build: tuple[Chip, Architecture] | None) -> Use | None:
    """Return until when drivers are made, where that is published for the chip."""
    found = use_drivers.SUPPORT.get(build[0].architecture) if build else None
    if found is None:
        return None
    answer, because = _barred(figures) or (found.answer, found.because)
    return Use(
        name="drivers",
        title="Systems that need a driver still maintained",
        answer=answer,
        because=because,
        needs="By the kind of chip that was measured.",
        sources=tuple(one.line for one in found.sources),
    )
