"""What the proofs of the memory came to, before and after.

That less is reported than before is no loss where it never was there: what answers
counts, and whether all that is reported does.
"""

from collections.abc import Iterator

from reference.repaired.rows import Counts, by_presence, counted, told
from reference.repaired.view import View
from reports.compared.value import Became, Row
from reports.record import Capacity
from reports.units import gib, percent

BAND = 0.10
"""Share by which the memory that could be proven differs without a meaning: drivers
keep more or less of it for themselves."""
_HELD = 0.90
"""With less of it free, other programs held the rest."""
_ENDS = ("driver refused", "whole claim held")
_MOVED: dict[Became, str] = {
    "better": "Memory was added, or it is another card of the same chip.",
    "got worse": "Less of it works than before, or it is another card of the same "
    "chip.",
}
_LESS = (
    "It reports less than answered before: memory was taken out, its firmware leaves "
    "some unused, or it is another card of the same chip."
)
_KEPT = "Drivers keep a little of it for themselves."


def memory_rows(before: View, after: View) -> Iterator[Row]:
    """Return what answers, what is not there, what fails and what lay in the PC."""
    old, new = before.own.capacity, after.own.capacity
    proofs = [one for one in (old, new) if one is not None]
    if not proofs:
        return
    yield _answers(before, after)
    cell = max(one.cell_bytes for one in proofs)
    gone = _worst(old, "mirrored", "hollow"), _worst(new, "mirrored", "hollow")
    if any(gone):
        yield counted(
            "memory",
            "Memory that is not there",
            gone,
            "became honest",
            lambda cells: gib(cells * cell),
        )
    bad: Counts = (_worst(old, "failing", "scrambled"),
                   _worst(new, "failing", "scrambled"))  # fmt: skip
    if any(bad):
        yield counted("memory", "Cells that fail", bad, "better")
    if any(one.spilled_bytes for one in proofs):
        yield told(
            "memory",
            "Memory taken from the PC",
            (
                None if old is None else _spilled(old),
                None if new is None else _spilled(new),
            ),
        )


def is_less(before: View, after: View) -> bool:
    """Whether all that it reports now answers, and more than that answered before."""
    old, new = before.case.proven_bytes, after.case.reported_bytes or 0
    return _is_whole(after) is True and 0 < new < (1 - BAND) * old


def _answers(before: View, after: View) -> Row:
    """Return how much kept its data, of how much was reported."""
    sizes = [view.case.proven_bytes if view.case.capacity else None
             for view in (before, after)]  # fmt: skip
    texts = [_share(view) for view in (before, after)]
    whole = [_is_whole(view) for view in (before, after)]
    became, note = _sized(sizes[0], sizes[1]), ""
    if whole[1] is False:
        became = "still wrong" if whole[0] is False else "got worse"
    elif is_less(before, after):
        became, note = "got worse", _LESS
    elif became == "got worse" and (whole[1] is None or _is_cut_short(after)):
        became, note = "changed", "The test after the repair did not go as far."
    elif became == "better" and (whole[0] is None or _is_cut_short(before)):
        became, note = "changed", "The test before the repair did not go as far."
    elif became in ("unchanged", "better") and whole == [False, True]:
        became = "became honest"
    elif became == "unchanged" and _resized(before, after):
        became = "changed"
    elif became == "unchanged" and texts[0] != texts[1]:
        note = _KEPT
    elif became in _MOVED:
        note = _MOVED[became]
    return Row(
        part="memory",
        title="Memory that answers",
        before=texts[0],
        after=texts[1],
        became=became,
        decides=note != _LESS
        and became in ("became honest", "still wrong", "got worse"),
        note=note,
    )


def _resized(before: View, after: View) -> bool:
    """Whether it now reports another size, of which as much answers as before."""
    old, new = (view.own.capacity for view in (before, after))
    if old is None or new is None:
        return False
    return _sized(old.claimed_bytes, new.claimed_bytes) != "unchanged"


def _share(view: View) -> str | None:
    proof = view.case.capacity
    if proof is None:
        return None
    size, claimed = view.case.proven_bytes, proof.claimed_bytes
    share = percent(size, claimed) if claimed else "none"
    return f"{gib(size)} of {gib(claimed)} ({share})"


def _is_whole(view: View) -> bool | None:
    """Whether all that is reported answers; None where that is not settled."""
    bits, share = view.finding("memory-bits"), view.finding("proven-capacity")
    if bits is not None and bits.bearing == "contradicts":
        return False
    if share is None or share.bearing != "agrees":
        return None
    return True


def _sized(old: int | None, new: int | None) -> Became:
    if old is None or new is None:
        return by_presence(old, new)
    if abs(new - old) <= BAND * max(old, new):
        return "unchanged"
    return "better" if new > old else "got worse"


def _is_cut_short(view: View) -> bool:
    """Whether something else than the card ended its proof."""
    proof = view.own.capacity
    if proof is None:
        return False
    free = proof.claimed_bytes if proof.free_bytes is None else proof.free_bytes
    held = bool(proof.spilled_bytes) or free < _HELD * proof.claimed_bytes
    return proof.ended_by not in _ENDS or held


def _spilled(proof: Capacity) -> str:
    return gib(proof.spilled_bytes) if proof.spilled_bytes else "none"


def _worst(proof: Capacity | None, *kinds: str) -> int | None:
    """Return the most cells of these kinds that any pass, or all blocks, found."""
    if proof is None:
        return None
    passes = [one.counts for one in proof.passes if one.counts]
    blocks = [one.counts for one in proof.blocks]
    if not passes and not blocks:
        return None
    sums = [sum(int(getattr(one, kind)) for kind in kinds) for one in passes]
    whole = sum(int(getattr(one, kind)) for one in blocks for kind in kinds)
    return max([*sums, whole])
