"""What has to hold before a card is called honest now: each condition, one by one.

All of them are asked, so that nobody repeats a test only to learn of the next. A
condition that fails gives its reason and one next step; `wrong` tells what is wrong
with the card from what was only not tested.
"""

from collections.abc import Callable, Iterator

from reference.judge import settling
from reference.repaired.agreeing import ids_agree, names_agree, sizes_agree
from reference.repaired.lasting import wrong_of
from reference.repaired.reasons import is_wrong, unsettled
from reference.repaired.view import View
from reference.rules.guarding import stop
from reports import words
from reports.compared.value import Reason
from reports.record import Capacity, CellCounts, Finding
from reports.text import plain
from reports.units import gib, many, moment_of

READS = 6
"""Times at least that a thorough test reads all memory: twice in each of its three
rounds."""
WHOLE = 0.99
"""Share of what is held that such a read has reached."""
_WHY = 300
_AGAIN = "run the whole test again, to its end"
_THOROUGH = "run `cardassay check --depth thorough`"
_REPAIR = "repair or replace what is broken, and test again"
_REWRITE = (
    "write the firmware that belongs to the chip as it was measured, and test again"
)
_STEPS = {
    "graphics-card": "choose the card itself with --card; `cardassay list` shows all",
    "model-known": "write firmware that names a model that was made, or give the "
    "maker's figures for it in a file with --reference",
}
"""Where what would settle a doubt is not what a repairer can do: the listing, which
would settle a name, does not count here."""
_ENDS = {
    "limit asked for": ("no more was asked for", "test again without --memory-limit"),
    "host memory": (
        "the PC's own memory ran short",
        "close other programs, and test again",
    ),
    "error": ("the proof did not finish", _AGAIN),
    "below a crash": (
        "what lies above cut the test off",
        "install the maker's own driver afresh, and test again",
    ),
}


def failing(before: View, after: View) -> tuple[Reason, ...]:
    """Return why the card is not called honest now: what is wrong first."""
    found = [reason for condition in _CONDITIONS for reason in condition(before, after)]
    unique = {one.sentence: one for one in reversed(found)}
    kept = [one for one in found if unique.pop(one.sentence, None) is not None]
    return tuple(sorted(kept, key=lambda one: not one.wrong))


def denied(after: View) -> tuple[Reason, ...]:
    """Return why the shipped table calls the card not as claimed, where it does.

    `after` is judged by that table alone, without rows that somebody added.
    """
    verdict = after.own.verdict
    if verdict is None or after.outcome != "not as claimed":
        return ()
    return (
        Reason(
            sentence="Only rows that were added to the table by hand bear it out. By "
            f"the table as it is: {verdict.sentence}",
            step="compare without --reference",
            wrong=True,
        ),
    )


def _practice(before: View, after: View) -> Iterator[Reason]:
    if before.own.practice != after.own.practice:
        first = "before" if before.own.practice else "after"
        yield unsettled(
            f"The record {first} the repair is of a practice card, the other of a "
            "real one: they cannot be compared.",
            "name two records of the one real card",
        )


def _order(before: View, after: View) -> Iterator[Reason]:
    if before.sold == after.sold:
        yield unsettled(
            "Both are the same record.",
            "test the card again after the repair, and name that record second",
        )
        return
    first, last = moment_of(before.started), moment_of(after.started)
    if first and last and last < first:
        yield unsettled(
            "The record named second is the older one.",
            "name the record before the repair first, the one after it second",
        )


def _kind(_: View, after: View) -> Iterator[Reason]:
    if not after.case.is_card:
        if not _is_told(after, "graphics-card"):
            yield unsettled(
                "What was tested is no graphics card with memory of its own.",
                _STEPS["graphics-card"],
            )
    elif after.case.is_part:
        yield unsettled(
            "What was tested is a part of a card, or one that the table does not know.",
            "test the whole card, outside a virtual machine",
        )


def _verdict(_: View, after: View) -> Iterator[Reason]:
    """Ask for "as claimed" for what the card now reports itself."""
    verdict = after.own.verdict
    if verdict is None or verdict.outcome == "as claimed":
        return
    found = {one.sentence: one for one in after.own.findings}
    for sentence in verdict.reasons or (verdict.sentence,):
        yield _judged(sentence, found.get(sentence), after)


def _judged(sentence: str, finding: Finding | None, after: View) -> Reason:
    """Return one of the verdict's reasons with what to do about it."""
    verdict = after.own.verdict
    rule = finding.rule if finding else ""
    if finding is not None and finding.bearing == "fault":
        return Reason(sentence=sentence, step=_REPAIR, wrong=True)
    if after.outcome == "not as claimed":
        return Reason(sentence=sentence, step=_REWRITE, wrong=True)
    proof = after.own.capacity
    if rule == "proven-capacity" and proof and proof.ended_by in _ENDS:
        return unsettled(sentence, _ENDS[proof.ended_by][1])
    if rule == "model-known" and after.case.looked_up:
        return unsettled(sentence, "install the maker's own driver, and test again")
    first = next(iter(verdict.settle if verdict else ()), "")
    settle = settling(rule) or (first if rule in ("", "guarded") else "")
    return unsettled(sentence, _STEPS.get(rule) or _as_step(settle) or _AGAIN)


def _is_told(after: View, *rules: str) -> bool:
    """Whether a reason of the verdict is already that of a rule, by its ending."""
    verdict = after.own.verdict
    reasons = set(verdict.reasons) if verdict else set()
    return any(
        one.sentence in reasons and one.bearing != "agrees" and one.rule.endswith(rules)
        for one in after.own.findings
    )


def _as_step(settle: str) -> str:
    """Return a sentence on what would settle it as the next step in a row of them."""
    settle = settle.rstrip(".")
    known = settle[:1].isupper() and not settle[:2].isupper()
    return settle[:1].lower() + settle[1:] if known else settle


def _depth(_: View, after: View) -> Iterator[Reason]:
    if after.own.depth != "thorough":
        depth = words.DEPTH[after.own.depth]
        yield unsettled(f"It was tested at {depth} depth only.", _THOROUGH)
    elif after.own.capacity is not None and after.outcome == "as claimed":
        yield from _thorough(after.own.capacity)


def _thorough(proof: Capacity) -> Iterator[Reason]:
    """Ask for what makes a thorough test thorough, whatever the record calls it."""
    cells = (proof.covered_bytes - proof.spilled_bytes) // max(proof.cell_bytes, 1)
    whole = [
        one
        for one in proof.passes
        if one.counts is not None and one.counts.cells >= WHOLE * cells
    ]
    if len(whole) < READS:
        yield unsettled(
            "Its memory was read less often than a thorough test reads it: "
            f"{len(whole)} of {READS} times.",
            _THOROUGH,
        )


def _whole(_: View, after: View) -> Iterator[Reason]:
    """Ask for a run to its end, with nothing that cut it off."""
    record = after.own
    told = stop(after.case)
    phases = {one.name: one for one in record.phases}.values()
    if told is not None:
        step = _as_step(told[1]) or _AGAIN
        yield unsettled(f"The test was {told[0]}."[:_WHY], step)
    elif record.interrupted or any(one.outcome == "interrupted" for one in phases):
        yield unsettled("The test was stopped before its end.", _AGAIN)
    for one in phases:
        if one.outcome == "failed":
            why = f": {plain(one.detail, _WHY).rstrip('.')}" if one.detail else ""
            yield unsettled(
                f"A part of the test failed, {plain(one.name)}{why}.", _AGAIN
            )
    if record.incidents:
        how = words.INCIDENT[record.incidents[0].kind]
        yield unsettled(
            f"The test was cut off on its way: {how}.",
            "install the maker's own driver afresh, and test again",
        )


def _proof(_: View, after: View) -> Iterator[Reason]:
    """Ask that the proof reached as far as the judge asks of a genuine card."""
    proof = after.own.capacity
    told = _is_told(after, "proven-capacity", "memory-bits", "memory-size")
    if told or not after.case.is_card:
        return
    missing = after.outcome == "undetermined"  # then the verdict says it itself
    if proof is None:
        if not missing:
            yield unsettled("Its memory was not proven.", _AGAIN)
        return
    proven = f"{gib(after.case.proven_bytes)} of {gib(proof.claimed_bytes)}"
    found = after.finding("proven-capacity")
    if proof.ended_by in _ENDS:
        why, step = _ENDS[proof.ended_by]
        if proof.ended_by != "error" or not missing:
            yield unsettled(f"Only {proven} were proven: {why}.", step)
    elif found is None or found.bearing != "agrees":
        yield unsettled(
            f"Only {proven} were proven.",
            "close other programs, unplug the display from this card, and test again",
        )


def _cells(_: View, after: View) -> Iterator[Reason]:
    """Ask that not one cell was anything but intact."""
    proof = after.own.capacity
    if proof is None or _is_told(after, "memory-bits"):
        return
    read = [one.counts for one in proof.passes if one.counts and one.counts.cells]
    worst = max(
        [*read, *(one.counts for one in proof.blocks)], key=_wrong, default=None
    )
    if worst is not None and _wrong(worst):
        kinds = [
            f"{many(count)} {kind}"
            for kind in ("mirrored", "hollow", "failing", "scrambled")
            if (count := getattr(worst, kind))
        ]
        told = " and ".join(kinds) or f"{many(_wrong(worst))} not intact"
        yield Reason(
            sentence=f"Not every cell of its memory kept what was written: {told}.",
            step="look at the memory chips, and test again once they are replaced or "
            "the firmware leaves them out",
            wrong=is_wrong(after),
        )
    elif any(one.state not in ("proven", "spilled") for one in proof.blocks):
        yield unsettled("Not every block of its memory was proven.", _AGAIN)


def _wrong(counts: CellCounts) -> int:
    return max(
        counts.mirrored + counts.hollow + counts.failing + counts.scrambled,
        counts.cells - counts.intact,
    )


def _results(_: View, after: View) -> Iterator[Reason]:
    if _is_told(after, "-results"):
        return
    for rate in after.own.rates:
        if rate.wrong:
            yield Reason(
                sentence=f"{words.RATE[rate.name]}: {rate.wrong:,} of "
                f"{rate.checked:,} results were wrong.",
                step=_REPAIR,
                wrong=is_wrong(after),
            )
    measured = [one for one in after.own.rates if one.value is not None]
    if measured and not any(one.checked for one in measured):
        yield unsettled("None of what it computed was checked.", _AGAIN)


def _soak(_: View, after: View) -> Iterator[Reason]:
    """Ask that a soak, where one was made, came to its end with nothing wrong.

    One that was left out is told as stability, and forbids nothing.
    """
    soak = after.own.soak
    if soak is None:
        return
    bad = wrong_of(soak)
    if bad and not _is_told(after, "soak-results", "memory-soak"):
        yield Reason(
            sentence=f"Under lasting load {bad}.",
            step="let it cool, look after its cooler, and test again",
            wrong=is_wrong(after),
        )
    if not bad and soak.stopped_by is not None:
        yield unsettled(
            f"The soak ended before its time: {plain(soak.stopped_by, _WHY)}.",
            "run `cardassay check --depth thorough` again, to its end",
        )


_CONDITIONS: tuple[Callable[[View, View], Iterator[Reason]], ...] = (
    _practice, _order, _kind, _verdict, names_agree, ids_agree, sizes_agree, _proof,
    _cells, _results, _soak, _whole, _depth,
)  # fmt: skip
