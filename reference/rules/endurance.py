"""What cut a run off: a driver that crashed, hung or lost the card; a PC gone down.

Once is a finding and no accusation: drivers crash on honest cards, and so do PCs. Again
and again at the same place in memory, while all below it passes, is what a card does
whose memory ends there.
"""

from collections.abc import Iterator

from reference.case import MEMORY_PHASES, Case
from reference.rules._say import find
from reports.lasting import Incident
from reports.record import Finding
from reports.units import gib

OF_THE_CARD = frozenset({"crashed", "hung", "lost", "frozen"})
"""What a card can bring about; a killed or ended program is somebody's doing."""
WHOLE = 0.99
HELD = 0.95
"""Share of the driver's free memory from which on other programs may be the cause."""
_DONE = {
    "crashed": "its driver crashed",
    "killed": "the measuring process was killed",
    "hung": "the card did not answer any more",
    "lost": "its driver lost the card",
    "babbled": "the measuring process told nonsense",
    "frozen": "the PC went down",
    "ended": "the program was ended",
}


def crash_place(case: Case) -> Iterator[Finding]:
    """Judge crashes that came again at one place of the memory."""
    place = repeated_at(case)
    proof = case.capacity
    if place is None or proof is None:
        return
    times = len(_in_memory(case))
    share = f"{gib(place)} of {gib(proof.claimed_bytes)}"
    said = (
        f"The test was cut off {times} times when memory above {gib(place)} was used, "
        f"while all {gib(case.proven_bytes)} below it kept their data."
    )
    free = proof.free_bytes
    crowded = free is not None and place >= HELD * free
    if crowded:
        said += " Other programs held memory; that may be the cause."
    yield find(
        "crash-place",
        "strong",
        "open" if crowded else "contradicts",
        claim=gib(proof.claimed_bytes),
        measured=f"cut off at {share}",
        envelope="all of it can be used",
        sentence=said,
    )


def cut_off(case: Case) -> Iterator[Finding]:
    """Tell what cut the run off, each time."""
    for one in case.record.incidents:
        yield find(
            "cut-off",
            "supporting",
            "open",
            measured=_DONE[one.kind],
            envelope="a test that runs to its end",
            sentence=f"{_when(one)}, {_DONE[one.kind]}{_why(one)}.",
        )


def repeated_at(case: Case) -> int | None:
    """Return where in memory the run was cut off again and again, all below it sound.

    None where it was cut off once, at different places, or where what lies below was
    not proven.
    """
    proof, incidents = case.capacity, _in_memory(case)
    if proof is None or proof.ended_by != "below a crash" or len(incidents) <= 1:
        return None
    places = [one.at_bytes for one in incidents if one.at_bytes is not None]
    widest = max((one.block_bytes or 0 for one in incidents), default=0)
    if len(places) < len(incidents) or max(places) - min(places) > widest:
        return None
    own = proof.covered_bytes - proof.spilled_bytes
    if case.broken or case.proven_bytes < WHOLE * own:
        return None
    return min(places)


def _in_memory(case: Case) -> list[Incident]:
    """Return what the card may have brought about while its memory was used."""
    return [
        one
        for one in case.record.incidents
        if one.kind in OF_THE_CARD and one.phase.partition(" ")[0] in MEMORY_PHASES
    ]


def _when(one: Incident) -> str:
    place = "" if one.at_bytes is None else f" at {gib(one.at_bytes)}"
    return f"{one.doing[:200]}{place}"


def _why(one: Incident) -> str:
    return f" ({one.detail[:300]})" if one.detail else ""
