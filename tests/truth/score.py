"""What the judge made of simulated runs, counted. No chance, no cards: counting alone.

A tally is a plain structure that worker processes send back and that adds up. How often
a match was right is counted where the record has one.
"""

from collections import Counter
from dataclasses import dataclass, field, fields

from truth.habits import HABITS
from truth.runs import Run
from truth.tells import SAME_SIZE, telling

from reports.record import Candidate, Identified, Record, Structure

KEPT = 400
"""Single cases kept word for word."""
NEARLY = 0.95
CLEAR = 1.7
"""First step of a staircase from which on it has counted."""
NEARLY_ALL = 0.99
SURE = 0.90
"""From this probability on an answer is given as one."""
WHOLE = ("standard, complete", "thorough, complete")
UNHEARD = 0.001
"""A probability of the true chip below which the match was blind to it."""
BINS = (0.0, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.99, 0.999, 1.0001)


@dataclass
class Tally:
    """Counts over many runs."""

    genuine: Counter[str] = field(default_factory=Counter)
    """Genuine runs by outcome."""
    forged: Counter[str] = field(default_factory=Counter)
    by_depth: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    """All runs by kind, how they were measured, and outcome."""
    rows: set[str] = field(default_factory=set)
    """Rows that had a genuine run."""
    doubts: Counter[str] = field(default_factory=Counter)
    """Rules that kept genuine runs from `as claimed`."""
    caught_by: Counter[str] = field(default_factory=Counter)
    accused: Counter[tuple[str, str]] = field(default_factory=Counter)
    """False accusations by model and rules."""
    missed: Counter[tuple[str, str]] = field(default_factory=Counter)
    """Misses by (true chip, claimed chip)."""
    less: Counter[str] = field(default_factory=Counter)
    """Forged runs in which the true card has less of anything: `all`, `missed`."""
    tellable: Counter[str] = field(default_factory=Counter)
    """Forged runs whose cards a test can tell apart: `all`, `missed`, and so less."""
    not_tellable: Counter[str] = field(default_factory=Counter)
    """Forged runs whose cards no test tells apart, by why, and so many missed."""
    missed_telling: dict[tuple[str, str], Counter[str]] = field(default_factory=dict)
    """Misses by pair that could be told, and by what could have told them."""
    missed_why: Counter[str] = field(default_factory=Counter)
    """Misses by what was there to tell the two cards apart."""
    missed_less: Counter[tuple[str, str]] = field(default_factory=Counter)
    """Of these, the ones where the true card is less than the claimed in anything."""
    missed_findings: dict[tuple[str, str], Counter[str]] = field(default_factory=dict)
    pairs: Counter[tuple[str, str]] = field(default_factory=Counter)
    """Forged runs by (true chip, claimed chip)."""
    named: Counter[str] = field(default_factory=Counter)
    """How often chip and model set were right: `genuine chip`, `genuine chip of`."""
    wrong_chips: Counter[tuple[str, str]] = field(default_factory=Counter)
    wrong_gaps: Counter[str] = field(default_factory=Counter)
    """Runs of which another chip was told, by how they were measured."""
    calibration: dict[str, Counter[int]] = field(default_factory=dict)
    cases: list[str] = field(default_factory=list)

    def add(self, other: "Tally") -> None:
        """Add another tally to this one."""
        for one in fields(self):
            mine, theirs = getattr(self, one.name), getattr(other, one.name)
            if isinstance(mine, dict) and not isinstance(mine, Counter):
                for key, counts in theirs.items():
                    mine.setdefault(key, Counter()).update(counts)
            elif isinstance(mine, list):
                mine.extend(theirs[: KEPT - len(mine)])
            else:
                mine.update(theirs)


def against(record: Record) -> list[str]:
    """Return what speaks against the card, strongest first, as `rule/strength`."""
    return sorted(
        {
            f"{one.rule}/{one.strength}"
            for one in record.findings
            if one.bearing in ("contradicts", "fault")
        }
    )


def count(tally: Tally, run: Run, judged: Record, name: str) -> None:
    """Count one judged run. `name` finds it again: `genuine 17`."""
    assert judged.verdict is not None
    outcome = judged.verdict.outcome
    if run.true is run.claimed:
        _genuine(tally, run, judged, outcome, name)
    else:
        _forged(tally, run, judged, outcome, name)
    kind = "genuine" if run.true is run.claimed else "forged"
    tally.by_depth[kind, measured(run), outcome] += 1
    _identified(tally, run, judged)


def measured(run: Run) -> str:
    """Return how a run was measured: its depth, and what is missing."""
    return f"{run.record.depth}, {_gap(run)}"


def _gap(run: Run) -> str:
    built = run.record.structure or Structure()
    held = HABITS[run.true.architecture].resident is None
    held = held or built.resident_groups is not None
    parts = built.link_ns and built.warp_width and held and built.levels
    failed = [one.missing for one in run.record.rates if one.value is None]
    sure = bool(built.second_step) and (built.step or 0.0) >= CLEAR
    quick = run.record.depth == "quick"  # which has no structure
    gaps = (
        ("stopped", run.record.interrupted),
        ("structure not measured", run.record.structure is None and not quick),
        ("units not counted", not (built.units or quick)),
        ("units not counted for sure", not (sure or quick)),
        ("a part of the structure missing", not (parts or quick)),
        ("a rate missing", any("failed" in (one or "") for one in failed)),
    )
    return next((name for name, missing in gaps if missing), "complete")


def _genuine(tally: Tally, run: Run, judged: Record, outcome: str, name: str) -> None:
    tally.genuine[outcome] += 1
    tally.rows.add(run.true.id)
    if outcome == "undetermined":
        tally.doubts.update(
            {
                f"{one.rule}/{one.bearing}"
                for one in judged.findings
                if one.strength == "strong"
                and one.bearing in ("contradicts", "open", "explains")
            }
            or {"incomplete"}
        )
    if outcome in ("not as claimed", "faulty"):
        rules = "; ".join(
            one.sentence
            for one in judged.findings
            if (one.bearing == "contradicts" and one.strength == "decisive")
            or one.bearing == "fault"
        )
        tally.accused[run.true.model, ", ".join(against(judged))] += 1
        _keep(tally, f"{name}: {outcome}: {run.true.id}: {rules}")


def _forged(tally: Tally, run: Run, judged: Record, outcome: str, name: str) -> None:
    tally.forged[outcome] += 1
    less = is_less(run)
    tally.less["all"] += less
    pair = (run.true.chip, run.claimed.chip)
    tally.pairs[pair] += 1
    why = alike(run)
    missed = outcome == "as claimed"
    if outcome == "not as claimed":
        tally.caught_by.update(
            {
                one.rule
                for one in judged.findings
                if one.bearing == "contradicts" and one.strength == "decisive"
            }
        )
    if why:
        tally.not_tellable[why] += 1
        tally.not_tellable[f"missed: {why}"] += missed
        return
    for of in ("", ", less") if less else ("",):
        tally.tellable[f"all{of}"] += 1
        tally.tellable[f"missed{of}"] += missed
    if missed:
        _missed(tally, run, judged, name)


def _missed(tally: Tally, run: Run, judged: Record, name: str) -> None:
    pair, less = (run.true.chip, run.claimed.chip), is_less(run)
    tally.missed[pair] += 1
    tally.less["missed"] += less
    tally.missed_less[pair] += less
    tally.missed_why[f"{'less, ' if less else ''}{_why(run)}"] += 1
    seen = [
        f"{one.rule}/{one.bearing}"
        for one in judged.findings
        if one.bearing != "agrees"
    ] or ["nothing"]
    tally.missed_findings.setdefault(pair, Counter()).update(
        [*seen, f"lies: {', '.join(run.lies) or 'names alone'}"]
    )
    told = min((telling(run.true, one, run.table) for one in run.told), key=len)
    tally.missed_telling.setdefault(pair, Counter()).update(told)
    _keep(
        tally,
        f"{name}: missed{', less' if less else ''}: "
        f"{run.true.id} as {run.claimed.id}, "
        f"{', '.join(run.lies) or 'names alone'}, "
        f"{', '.join(run.troubles.told) or 'no trouble'}; {measured(run)}; "
        f"could be told by {', '.join(told)}",
    )


def alike(run: Run) -> str | None:
    """Return why no test tells a forged card from what it is sold as; else None."""
    true = run.true
    same = [one for one in run.told if not telling(true, one, run.table)]
    if not same:
        return None
    for one in same:
        if true.chip == one.chip and true.units == one.units:
            if true.memory_bytes * SAME_SIZE > one.memory_bytes:
                return "same chip and units, more memory than it says"
            return "same chip and units, sizes that drivers show alike"
    if any(true.architecture == one.architecture for one in same):
        return "chips of one architecture, cut down to the same"
    return "chips of two architectures, alike in all that is measured"


def is_less(run: Run) -> bool:
    """Whether the true card has less of anything than the claimed one is sold with."""
    true, claimed = run.true, run.claimed
    return (
        true.memory_bytes < claimed.memory_bytes
        or true.fp32 < NEARLY * claimed.fp32
        or true.bandwidth < NEARLY * claimed.bandwidth
        or (true.chip == claimed.chip and true.units < claimed.units)
    )


def _why(run: Run) -> str:
    """Return what a missed run lacked, or what both cards share."""
    built, true, claimed = run.record.structure, run.true, run.claimed
    same = (
        "same chip"
        if true.chip == claimed.chip
        else (
            "same architecture"
            if true.architecture == claimed.architecture
            else "other architecture"
        )
    )
    if built is None:
        return f"{same}, structure not measured"
    if not built.units:
        return f"{same}, units not counted"
    if true.units == claimed.units:
        return f"{same}, as many units"
    return f"{same}, units counted but not surely, or spare ones"


def _keep(tally: Tally, said: str) -> None:
    if len(tally.cases) < KEPT:
        tally.cases.append(said)


def _identified(tally: Tally, run: Run, judged: Record) -> None:
    """Count whether the match found the true chip and models, and how sure it was."""
    told = getattr(judged, "identified", None)
    kind = "genuine" if run.true is run.claimed else "forged"
    tally.named[f"{kind} all"] += 1
    if told is None or not told.chips:
        return
    best = told.chips[0]
    right = run.true.chip in {best.chip, *best.twins}
    named = _named(told)
    answers = {
        "chip": right,
        "models": right and run.true.model in best.models,
        "chip, in the set": any(run.true.chip in {c.chip, *c.twins} for c in named),
        "models, in the set": any(run.true.model in one.models for one in named),
    }
    whole = measured(run)
    for what, found in answers.items():
        _count(tally, f"{kind} {what}", right=found)
        if whole in WHOLE:
            _count(tally, f"{kind} {what}, complete", right=found)
        if best.probability >= SURE:
            _count(tally, f"{kind} {what}, sure", right=found)
    tally.wrong_gaps[whole] += not right
    tally.named[f"{kind} differ"] += told.differ
    held = sum(
        one.probability for one in told.chips if run.true.chip in {one.chip, *one.twins}
    )
    tally.named[f"{kind} chip held nothing"] += held < UNHEARD
    for what, said, true in (
        ("silicon alone", best.probability, right),
        (f"silicon alone, {kind}", best.probability, right),
    ):
        tally.calibration.setdefault(what, Counter())[2 * place(said) + true] += 1
    if kind == "genuine" and told.with_claims:
        first = told.with_claims[0]
        fits = run.true.chip in {first.chip, *first.twins}
        _count(tally, "genuine chip, with claims", right=fits)
        tally.calibration.setdefault("silicon and word, genuine", Counter())[
            2 * place(first.probability) + fits
        ] += 1
    if not right:
        tally.wrong_chips[run.true.chip, best.chip] += 1


def _count(tally: Tally, what: str, *, right: bool) -> None:
    tally.named[f"{what} of"] += 1
    tally.named[what] += right


def _named(told: Identified) -> list[Candidate]:
    """Return the fewest candidates that hold nearly all of the probability."""
    found, held = [], 0.0
    for one in told.chips:
        found.append(one)
        held += one.probability
        if held >= NEARLY_ALL:
            break
    return found


def place(probability: float) -> int:
    """Return the bin of a probability."""
    return sum(edge <= probability for edge in BINS) - 1
