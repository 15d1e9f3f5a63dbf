"""The verdict in one line that a shop clerk understands.

Words alone: what was claimed, what was found or what stays open, and the outcome. It
decides nothing; the findings that decided are given to it.
"""

from collections.abc import Callable, Sequence

from reference import layer_words, profile
from reference.case import Case
from reference.causes import disturbed
from reference.evidence import SURE
from reference.rules._say import a, chip_names, either
from reports.record import Capacity, Finding, Outcome
from reports.units import gib
from reports.words import RATE

KEPT = 1.1
"""Held over proven from which on cells did not keep their data."""
_STORED = ("memory-", "link-")
"""How the rules begin whose faults are the memory's."""
_PARTS = 2
"""At most so many things are named as found; the reasons hold them all."""
_SLOW = 3
_NAME = 120

_FOUND: dict[str, Callable[[Finding], str]] = {
    "memory-bits": lambda one: one.measured,
    "reported-model": lambda one: f"a card that calls itself {_named(one.measured)}",
    "compute-units": lambda one: f"{one.measured} instead of {one.envelope}",
    "lane-count": lambda one: f"{one.measured} instead of {one.envelope}",
    "counted-units": lambda one: f"{one.measured} instead of {one.envelope}",
    "pci-id": lambda one: f"the PCI id of {_owner(one.measured)}",
    "compute-capability": lambda one: (
        f"a chip of compute capability {one.measured} instead of {one.envelope}"
    ),
    "gfx-target": lambda one: (
        f"a chip of kind {one.measured} instead of {one.envelope}"
    ),
    "bus-width": lambda one: (
        f"a memory bus of {one.measured} instead of {one.envelope}"
    ),
    "listing-memory": lambda one: f"a card that reports {one.measured}",
} | layer_words.FOUND
"""What was found, by decisive rule, the most telling first. memory-size has its own
sentence."""

_OPEN: tuple[str, ...] = (
    "graphics-card", "model-known", "crash-place", "memory-bits", "proven-capacity",
    "spilled-memory", "memory-soak", "reported-model", "pci-id", "compute-units",
    "lane-count",
    "counted-units", "gfx-target", "compute-capability", "bus-width", "memory-size",
    "listing-memory", "measured-chip", "told-units", "own-word", "names-agree",
    "lane-cycles", "warp-width", "one-variant", "too-fast", "lesser-memory",
    "other-card", *layer_words.CLAUSES,
)  # fmt: skip
"""Which doubt is named, the most telling first; then rates, then ratios."""
_ORDER = ("guarded", *_OPEN, "fp32-rate", "memory-read-rate", "memory-write-rate")


def place(rule: str) -> int:
    """Return how telling a rule is: 0 is told first."""
    return _ORDER.index(rule) if rule in _ORDER else len(_ORDER)


def main_sentence(
    case: Case,
    outcome: Outcome,
    against: Sequence[Finding],
    faults: Sequence[Finding],
    missing: Sequence[str],
    doubts: Sequence[Finding],
) -> str:
    """Return the verdict's sentence; `missing` and `doubts` are what left it open."""
    claim = _claim(case)
    if outcome == "as claimed":
        size = gib(case.proven_bytes)
        return (
            f"{claim} Found: {size} of working memory, and nothing against it. As "
            "claimed."
        )
    if outcome == "undetermined":
        clause = _unsettled(case, missing, doubts)
        if any(one.bearing == "contradicts" for one in doubts):
            return f"{claim} Doubtful, but not proven false: {clause}. Undetermined."
        return f"{claim} Nothing proves it false, but {clause}. Undetermined."
    if outcome == "faulty":
        return f"{claim} Found: {_broken(faults)}. Faulty."
    end = "Not as claimed, and faulty as well." if faults else "Not as claimed."
    return f"{claim} {_really(case) or _against(case, against)} {end}"


def _claim(case: Case) -> str:
    what = a(case.model[:_NAME]) if case.model else "an unnamed card"
    size = case.listed_whole or case.reported_bytes
    if case.is_listed:
        made = {row.memory_bytes for row in case.all_rows}
        size = case.listed_whole or (made.pop() if len(made) == 1 else None)
        return f"Sold as {what}" + (f" with {gib(size)}." if size else ".")
    joined = ", sold with" if case.listed_bytes else " with"
    return f"Reported as {what}" + (f"{joined} {gib(size)}." if size else ".")


def _really(case: Case) -> str | None:
    """Return what the card is, where that is sure and another card than claimed."""
    found = case.identified
    if found is None or not found.chips or found.chips[0].probability < SURE:
        return None
    first = found.chips[0]
    sizes = first.memory_bytes
    size = f" with {gib(sizes[0])}" if len(sizes) == 1 else ""
    if not {first.chip, *first.twins} & profile.build(case.table, case.rows):
        return f"Found: {a(chip_names(first))}{size}."
    claimed = {row.model for row in case.all_rows}
    if len(first.models) <= _PARTS and not claimed & set(first.models):
        return f"Found: {a(either(first.models))}{size}."
    return None


def _against(case: Case, against: Sequence[Finding]) -> str:
    first = {one.rule: one for one in reversed(against)}
    never = first.pop("memory-size", None)
    said = ""
    if never is not None and "memory-bits" not in first:
        size, _, answered = never.measured.partition(" answered")
        said = f"No {case.model} was ever made with {never.claim}"
        said += f", and {size} answered." if answered or size != never.claim else "."
        if not first:
            return said
        said += " "
    elif never is not None and len(first) == 1:
        said = f"No {case.model} was ever made with {never.claim}. "
    if "compute-units" in first:
        first.pop("lane-count", None)
    if {"compute-units", "lane-count"} & set(first):
        first.pop("counted-units", None)
    if {"reported-model", "listing-memory"} <= set(first):
        size = first.pop("listing-memory").measured
        parts = [f"{_FOUND['reported-model'](first.pop('reported-model'))} with {size}"]
    else:
        parts = []
    found = [_FOUND[rule](first[rule]) for rule in _FOUND if rule in first]
    at = 1 if "memory-bits" in first else 0
    parts = [*found[:at], *parts, *found[at:]]
    return f"{said}Found: {', and '.join(parts[:_PARTS])}."


def _broken(faults: Sequence[Finding]) -> str:
    stored = [one for one in faults if one.rule.startswith(_STORED)]
    stored.sort(key=lambda one: one.rule != "memory-bits")
    parts = [
        f"memory that gives back wrong data ({one.measured})" for one in stored[:1]
    ]
    wrong = [one for one in faults if one not in stored]
    if wrong:
        parts.append(f"arithmetic that comes out wrong ({wrong[0].measured})")
    return ", and ".join(parts)


def _unsettled(case: Case, missing: Sequence[str], doubts: Sequence[Finding]) -> str:
    """Return the one clause that says what could not be settled."""
    strong = [one for one in doubts if one.bearing == "contradicts"]
    speed = [one for one in doubts if one.rule.endswith(("-rate", "-cycles", "-ratio"))]
    if speed and speed == list(doubts) and not (strong or missing) and disturbed(case):
        return "another program was using the card meanwhile"
    if missing and not strong:
        first = missing[0].removesuffix(".")
        if not any(one.rule == "guarded" for one in doubts):
            first = first.partition(":")[0]
        return first[:1].lower() + first[1:]
    for rule in _OPEN:
        for one in strong or doubts:
            if one.rule == rule:
                return _clause(case, one)
    if not strong and any(one.rule.endswith("-results") for one in doubts):
        return "its driver seems not to run all tests"
    rates = [
        RATE[name]
        for one in strong or doubts
        if one.rule.endswith("-rate")
        and (name := one.rule.removesuffix("-rate").replace("-", "_")) in RATE
    ]
    if rates:
        named = [*rates[:_SLOW], *(["more"] if len(rates) > _SLOW else [])]
        kinds = ", ".join(named).lower()
        slow = f"it is slower than {a(case.model)} should be ({kinds})"
        return slow if strong else f"{slow}, for a cause that was seen"
    return f"its rates do not stand to each other as on {a(case.model)}"


def _clause(case: Case, one: Finding) -> str:
    proof = case.capacity
    spilled = gib(proof.spilled_bytes) if proof else "none"
    rule, open_ = one.rule, one.bearing != "contradicts"
    if rule == "proven-capacity" and proof:
        return _short_of(case, proof, open_=open_)
    if rule == "model-known":
        return _unknown(case)
    if rule == "reported-model" and not case.reported_name:
        return "the card names no model of its own"
    part = _of(case.proven_bytes, proof.claimed_bytes if proof else 0)
    clauses = {
        "graphics-card": "this is no graphics card with memory of its own",
        "memory-bits": "its memory did not answer as any healthy one does"
        if open_
        else f"only {part} seem to be there",
        "memory-soak": "its memory was not quite right under lasting load",
        "spilled-memory": f"only {part} are proven to be on the card, {spilled} lay in "
        "the PC's own memory",
        "reported-model": f"the card calls itself {_named(one.measured[:_NAME])}",
        "pci-id": f"it has the PCI id of {_owner(one.measured)}",
        "compute-units": f"it shows {one.measured} instead of {one.envelope}",
        "lane-count": f"it shows {one.measured} instead of {one.envelope}",
        "counted-units": f"its chip runs {one.measured} instead of {one.envelope}",
        "told-units": f"its driver counts {one.claim} units where {one.measured} run",
        "measured-chip": f"all measurements together fit {a(one.measured)}",
        "own-word": f"its silicon is that of {a(one.measured)}",
        "lane-cycles": f"its lanes and clocks are not those of {a(case.model)}",
        "warp-width": f"{one.measured} work-items step together instead of "
        f"{one.envelope}",
        "gfx-target": f"its driver compiles for {one.measured}, not {one.envelope}",
        "compute-capability": f"its compute capability is {one.measured}, not "
        f"{one.envelope}",
        "bus-width": f"its memory bus is {one.measured} wide, not {one.envelope}",
        "memory-size": f"it reports {one.claim} where {one.envelope} were made",
        "listing-memory": f"it reports {one.measured} of the {one.claim} sold",
        "one-variant": f"no one variant of {a(case.model)} has {one.measured}",
        "too-fast": f"it computes far faster than {a(case.model)} can",
        "lesser-memory": f"only {one.measured} of {one.claim} could be reached",
        "other-card": "a quick look cannot tell it from every other card"
        if case.record.depth == "quick"
        else f"{one.measured} would have been measured alike",
        "crash-place": f"the test was {one.measured} each time",
        "names-agree": "its drivers call it by different names",
    }
    return clauses[rule] if rule in clauses else layer_words.CLAUSES[rule](one)


def _short_of(case: Case, proof: Capacity, *, open_: bool) -> str:
    """Return why less was proven than is claimed."""
    part = _of(case.proven_bytes, proof.claimed_bytes)
    if proof.spilled_bytes:
        away = gib(proof.spilled_bytes)
        return f"only {part} were proven, {away} lay in the PC's own memory"
    if not open_:
        if proof.covered_bytes > KEPT * case.proven_bytes:
            return f"only {part} kept their data"
        return f"its driver gave only {part}"
    why = {
        "limit asked for": "more was not asked for",
        "host memory": "the PC's own memory ran short",
        "below a crash": "the rest cut the test off",
    }.get(proof.ended_by, "other programs held the rest")
    return f"only {part} were tested, as {why}"


def _of(part: int, whole: int) -> str:
    """Return `2.00 of 8.00 GiB`."""
    some, all_ = gib(part), gib(whole)
    figure, _, unit = some.partition(" ")
    return f"{figure if all_.endswith(f' {unit}') else some} of {all_}"


def _owner(measured: str) -> str:
    """Return `a GK107 (10de:0fc6)` of `10de:0fc6, a GK107`."""
    number, _, owner = measured.partition(", ")
    return f"{owner} ({number})" if owner else number


def _unknown(case: Case) -> str:
    if not case.model:
        return "nothing names a model"
    if case.reported_chips and not case.is_listed:
        return f"its driver names only the chip ({either(case.reported_chips)})"
    return "the table of genuine cards does not know this name"


def _named(name: str) -> str:
    """Return a name with its article; a chip's or target's bare."""
    return name if name.startswith("gfx") else a(name)
