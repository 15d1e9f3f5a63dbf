"""From a record and the table to findings and a verdict: pure and total.

The verdict follows from the findings by this table, the first line that holds:

| if there is                                                   | the verdict is   |
|---------------------------------------------------------------|------------------|
| a decisive contradiction                                      | not as claimed   |
| a fault                                                       | faulty           |
| something essential missing: the run was interrupted, the     | undetermined     |
|   capacity proof not finished, no fp32 or no memory rate      |                  |
| a strong contradiction, or a strong finding that stays open   | undetermined     |
|   or only explains (the model is unknown, a rate has a cause) |                  |
|   a strong finding that another card fits as well is such a   |                  |
|   one: `as claimed` has to be earned (rules/rivals.py)        |                  |
| none of these                                                 | as claimed       |

Supporting findings never move it. Order of rules, claims, rates or samples never does.
"""

from collections.abc import Iterable
from functools import lru_cache
from typing import TypeVar

import msgspec

from reference import layer_words, rules
from reference.case import Case
from reference.causes import on_battery
from reference.rules._say import counted
from reference.rules.guarding import sentence as said_of_stop
from reference.rules.guarding import stop
from reference.rules.memory import has_readings
from reference.sentences import main_sentence, place
from reference.table import Table
from reports.record import Envelope, Finding, Genuine, Outcome, Record, Verdict
from reports.words import RATE

_Sourced = TypeVar("_Sourced", Finding, Genuine, Envelope)
_BEARINGS = ("contradicts", "fault", "open", "explains", "agrees")
_STRENGTHS = ("decisive", "strong", "supporting")
_ESSENTIAL_RATES = ("memory_read", "memory_write", "memory_copy")
_TITLE_LIMIT = 120
_PARTS = {
    "start": "The test itself",
    "structure": "The chip's structure",
    "soak": "The soak",
}
_ENDS = {"failed": "failed", "skipped": "left out", "interrupted": "stopped"}
_REASONS = 8
_LOW_RATES = 2
_LIMIT = 2000

_SETTLE = {
    "graphics-card": "Choose the graphics card itself from the list of cards.",
    "model-known": "Name the model with --claim as its box prints it, or give the "
    "maker's figures for it in a file with --reference.",
    "reported-model": "Read the chip's marking, or use the maker's own driver.",
    "names-agree": "Install the maker's own driver afresh and test again.",
    "pci-id": "Read the firmware and the chip's marking.",
    "gfx-target": "Test without settings that override the compiler's target.",
    "compute-units": "Install the maker's own driver and test again.",
    "lane-count": "Install the maker's own driver and test again.",
    "counted-units": "Close every other program, and test again.",
    "told-units": "Install the maker's own driver afresh and test again.",
    "lane-cycles": "Let the card cool, close other programs, and test again.",
    "warp-width": "Close every other program, and test again.",
    "measured-chip": "Read the chip's marking, under its cooler.",
    "own-word": "Install the maker's own driver afresh, and read the chip's marking.",
    "other-card": "Close other programs and run the whole test at standard depth, so "
    "that units, caches and every rate are measured; else read the chip's marking.",
    "lesser-memory": "Test with a newer driver or on a 64-bit system, so that all its "
    "memory is shown; else look at the memory chips.",
    "bus-width": "Install the maker's own driver and test again.",
    "listing-memory": "Ask what size the card was sold with, and test again.",
    "memory-size": "Look at the memory chips: their marking gives each one's size.",
    "memory-bits": "Test again, at greater depth and with another driver.",
    "memory-soak": "Let it cool, and test again with a longer --soak.",
    "spilled-memory": "Close other programs, forbid the driver to fall back on the "
    "PC's memory, and test again.",
    "proven-capacity": "Close other programs, unplug the display from this card, and "
    "test again.",
    "crash-place": "Install the maker's own driver afresh, and test again with nothing "
    "else running; look at the memory chips: their marking gives each one's size.",
    "one-variant": "Install the maker's own driver, test again, and read the chip's "
    "marking.",
    "too-fast": "Test again, and read the chip's marking: nothing it says of itself "
    "can be right.",
    "rate": "Let the card cool, close other programs, put it into a full-length slot "
    "with all its power plugs, and test again.",
    "results": "Test again, with another driver.",
    "ratio": "Test again with nothing else running.",
} | layer_words.SETTLE
_ON_MAINS = "Plug in the PC's mains adapter, and test again."
_WITHOUT_LIMIT = "Test again without --memory-limit."


def judge(record: Record, table: Table) -> Record:
    """Return the record with what the table makes of it.

    Fills `genuine`, `findings`, `identified`, `verdict` and the table's version and
    hash. Never raises on a record that `reports.codec` would read.
    """
    case = Case(record, table)
    found = _order(_apply(case))
    titles = _titles(table)
    return msgspec.structs.replace(
        record,
        program=msgspec.structs.replace(
            record.program, table_version=table.version, table_sha256=table.sha256
        ),
        genuine=_genuine(case, titles),
        findings=tuple(_entitled(one, titles) for one in found),
        identified=case.identified,
        verdict=conclude(case, found),
    )


@lru_cache(maxsize=8)
def _titles(table: Table) -> dict[str, str]:
    """Return what a reader knows each source by: publisher and short title."""
    return {
        key: _short(f"{one.publisher}: {one.title}")
        + (" (from memory)" if "memory" in one.title else "")
        for key, one in table.sources.items()
    }


def _entitled(one: _Sourced, titles: dict[str, str]) -> _Sourced:
    """Return the finding, model or envelope with titles in place of sources' ids."""
    names = (titles.get(source, source) for source in one.sources)
    return msgspec.structs.replace(one, sources=tuple(dict.fromkeys(names)))


def _short(title: str) -> str:
    title = title.partition(" (")[0].partition(";")[0]
    if len(title) <= _TITLE_LIMIT:
        return title
    return title[: title.rfind(" ", 0, _TITLE_LIMIT)].rstrip(",") + " …"


def _apply(case: Case) -> Iterable[Finding]:
    asked = rules.ANY_DEVICE + (rules.CARD if case.is_card else ())
    for rule in asked:
        yield from rule(case)


def _order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    return tuple(
        sorted(
            set(findings),
            key=lambda one: (
                _BEARINGS.index(one.bearing),
                _STRENGTHS.index(one.strength),
                place(one.rule),
                one.rule,
                one.sentence,
            ),
        )
    )


def _genuine(case: Case, titles: dict[str, str]) -> Genuine | None:
    if not case.rows or not case.is_card:
        return None
    made = Genuine(
        model=case.model,
        chips=tuple(sorted(case.chips)),
        variants=tuple(row.id for row in case.rows),
        envelopes=tuple(_entitled(one, titles) for one in case.envelopes.values()),
        sources=case.sources,
    )
    return _entitled(made, titles)


def conclude(case: Case, findings: tuple[Finding, ...]) -> Verdict:
    """Return what follows from the findings, by the table at the head of this file."""
    against = [
        one
        for one in findings
        if one.bearing == "contradicts" and one.strength == "decisive"
    ]
    faults = [one for one in findings if one.bearing == "fault"]
    missing = _missing(case)
    doubts = [
        one
        for one in findings
        if one.strength == "strong"
        and one.bearing in ("contradicts", "open", "explains")
    ]
    told: list[str]
    outcome: Outcome
    if against:
        outcome = "not as claimed"
        told = _told([*against, *_beside(doubts, against)])
        if _untested(case):  # said plainly, right behind what decided
            told[len(against) : len(against)] = missing
    elif faults:
        outcome, told = "faulty", [one.sentence for one in faults]
    elif missing or doubts:
        outcome = "undetermined"
        told = [*missing, *_told(doubts)]
    else:
        outcome = "as claimed"
        told = [
            one.sentence
            for one in findings
            if one.bearing == "agrees" and one.strength != "supporting"
        ]
    return Verdict(
        outcome=outcome,
        sentence=main_sentence(case, outcome, against, faults, missing, doubts),
        reasons=tuple(dict.fromkeys(told))[:_REASONS],
        unchecked=_unchecked(case),
        settle=_settle(case, missing, doubts) if outcome == "undetermined" else (),
    )


def _told(findings: list[Finding]) -> list[str]:
    """Return their sentences; of many rates that are too low the first two alone.

    Spilled memory is told by what was proven, where that is told as well.
    """
    if any(one.rule == "proven-capacity" for one in findings):
        findings = [one for one in findings if one.rule != "spilled-memory"]
    low = [
        one
        for one in findings
        if one.rule.endswith("-rate") and one.bearing == "contradicts"
    ]
    more = low[_LOW_RATES:]
    told = [one.sentence for one in findings if one not in more]
    if more:
        verb = "is" if len(more) == 1 else "are"
        told.append(f"{counted(len(more), 'more rate')} {verb} too low as well.")
    return told


def _beside(doubts: list[Finding], against: list[Finding]) -> list[Finding]:
    """Strong contradictions that say more than the decisive ones."""
    said = {one.rule for one in against}
    if "memory-bits" in said:
        said.add("proven-capacity")
    return [
        one for one in doubts if one.bearing == "contradicts" and one.rule not in said
    ]


def _missing(case: Case) -> list[str]:
    """Essential things that the record lacks, a sentence each."""
    record, found = case.record, []
    if _untested(case):
        return [_not_measured(case)]
    stopped = stop(case)
    if stopped is not None:
        found.append(said_of_stop(stopped[0])[:_LIMIT])
    elif record.interrupted:
        found.append("The test was stopped before its end.")
    proof = case.capacity
    failed = [one for one in case.broken if one.outcome == "failed"]
    if failed:
        why = failed[0].detail.removeprefix(f"{record.card.label}: ")
        why = why or f"{failed[0].name} failed"
        found.append(f"The test of its memory broke off: {why}."[:_LIMIT])
    elif proof is None or not has_readings(case) or proof.ended_by == "error":
        found.append("The memory was not proven: the capacity proof did not finish.")
    have = {name for name, rate in case.rates.items() if rate.value is not None}
    if "fp32" not in have:
        found.append("The arithmetic rate (fp32) is missing.")
    if not have & set(_ESSENTIAL_RATES):
        found.append("The memory's rate is missing.")
    return found


def _untested(case: Case) -> bool:
    """Whether the card was never measured, and nothing cut a test of it off."""
    record = case.record
    cut = record.interrupted or record.incidents or stop(case) is not None
    return case.unmeasured and not cut


def _not_measured(case: Case) -> str:
    """Return that only layers, firmware and the eye speak of the card, and why."""
    record = case.record
    failed = [one for one in record.phases if one.outcome == "failed" and one.detail]
    why = failed[-1].detail.removeprefix(f"{record.card.label}: ") if failed else ""
    said = "Nothing of the card itself was measured"
    return f"{said}: {why.removesuffix('.')}."[:_LIMIT] if why else f"{said}."


def _settle(case: Case, missing: list[str], doubts: list[Finding]) -> tuple[str, ...]:
    found = []
    stopped = stop(case)
    if stopped is not None and stopped[1]:
        found.append(stopped[1][:_LIMIT])
    elif missing and _untested(case):
        found += _without_driver(case)
    elif missing:
        found.append("Run the whole test again, to its end.")
    if on_battery(case) and any(one.rule.endswith("-rate") for one in doubts):
        found.append(_ON_MAINS)
    for one in doubts:
        if one.rule == "proven-capacity" and _is_limited(case):
            found.append(_WITHOUT_LIMIT)
        elif one.rule != "proven-capacity" or not _is_spilled(doubts):
            text = settling(one.rule)
            found += [text] if text else []
    return tuple(dict.fromkeys(found))


def settling(rule: str) -> str | None:
    """Return what would settle a doubt that a rule raised, as a sentence."""
    return _SETTLE.get(rule) or _SETTLE.get(rule.rpartition("-")[2])


def _without_driver(case: Case) -> list[str]:
    """Return what is left to be done with a card that could not be tested."""
    record = case.record
    found = ["Get the card to run under its maker's driver, and test it."]
    if record.firmware_report is None:
        found.append("Read its firmware chip, and look at the read.")
    if record.inspection is None:
        found.append("Look at the card itself: chip, memory, sockets and plugs.")
    return found


def _is_limited(case: Case) -> bool:
    return case.capacity is not None and case.capacity.ended_by == "limit asked for"


def _is_spilled(doubts: list[Finding]) -> bool:
    """Whether spilled memory is a doubt of its own: it says why little was proven."""
    return any(one.rule == "spilled-memory" for one in doubts)


def _phase(name: str) -> str:
    return _PARTS.get(name) or RATE.get(name, f"The test of memory or link, {name}")


def _unchecked(case: Case) -> tuple[str, ...]:
    record = case.record
    found = [
        f"{RATE[rate.name]}: {rate.missing or 'not measured'}."
        for rate in case.rates.values()
        if rate.value is None
    ]
    rates = {rate.name for rate in record.rates}
    found += [
        f"{_phase(one.name)}: "
        f"{_ENDS[one.outcome]}{f' ({one.detail})' if one.detail else ''}."
        for one in {phase.name: phase for phase in record.phases}.values()
        if one.outcome in _ENDS and one.name not in rates
    ]
    missing = record.structure.missing if record.structure else ()
    found += [f"{_PARTS['structure']}, {one}." for one in missing]
    layers = {claim.layer for claim in record.claims}
    makers = {row.vendor for row in case.rows}
    for layer, words in (
        ("listing", "The listing: what the card was sold as was not told."),
        ("opencl", "OpenCL's word: the compute driver said nothing of the card."),
        ("nvml", "NVML's word: NVIDIA's management library said nothing of the card."),
        ("pci", "The PCI ids: the system did not show them."),
    ):
        if layer not in layers and (layer != "nvml" or "NVIDIA" in makers):
            found.append(words)
    if record.capacity is None:
        found.append("The memory's real size.")
    if case.unmeasured:
        found.append("Its units, its arithmetic and the speed of its memory.")
        if record.firmware_report is None:
            found.append("Its firmware: no read of the chip was given.")
        if record.inspection is None:
            found.append("The card itself: nobody looked at it.")
    telemetry = record.telemetry
    if telemetry is None or not telemetry.samples:
        reason = (telemetry.missing if telemetry else None) or "no sensors were read"
        found.append(f"Heat, clocks and power: {reason}.")
    return tuple(sorted({one[:_LIMIT] for one in found}))
