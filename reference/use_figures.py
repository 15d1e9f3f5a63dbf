"""What a record holds of a card that decides its uses: figures, and what forbids all.

Only reads the record and the table; what work takes is `use_needs.py`'s matter.
"""

from collections.abc import Mapping
from typing import Literal, get_args

from msgspec import field

from reference.evidence import SURE
from reference.rows import Architecture, Chip, Variant
from reference.table import Table
from reports.base import Base, Count, Positive, Text
from reports.counts import CellCounts
from reports.record import Capacity, Record
from reports.units import gib

Quantity = Literal["memory", "memory_read", "fp32", "fp64", "link_up"]
FEW = 1e-4
"""Share of cells up to which missing ones may be a few bad bits."""
_SHOWING = ("desktop", "laptop")
_WAIT = "Nothing that matters should run on it until that is settled."
_LACKING = frozenset({"memory-bits", "proven-capacity", "crash-place"})
"""Rules by which a card that is not as claimed has less memory than it reports."""


class Figures(Base, frozen=True, kw_only=True):
    """What was measured. None: not measured."""

    proven_bytes: Count | None = None
    upper_bytes: Count = 0
    """More than that it cannot have: proven, and what was reported but not tested."""
    rates: Mapping[Quantity, Positive] = field(default_factory=dict)
    sockets: bool | None = None
    """Whether it has sockets for displays; None: nobody knows."""
    shares_memory: bool = False
    """Whether its memory is the PC's own."""
    is_card: bool = True
    obstacle: Text | None = None
    """Why no work that matters should run on it."""


def figures_of(record: Record, table: Table | None = None) -> Figures:
    """Return what `record` holds; without a table nothing is known by the model."""
    proof, card = record.capacity, record.card
    told: dict[str, float | None] = {
        rate.name: rate.value for rate in record.rates if not rate.wrong
    }
    tested = proof is not None and proof.covered_bytes > 0
    return Figures(
        proven_bytes=proof.proven_bytes if proof and tested else None,
        upper_bytes=_upper(proof) if proof and tested else 0,
        rates={name: value for name in get_args(Quantity) if (value := told.get(name))},
        sockets=_sockets(record, table),
        shares_memory=card.unified_memory,
        is_card=card.kind in {"gpu", "accelerator"},
        obstacle=_obstacle(record),
    )


def build_of(record: Record, table: Table) -> tuple[Chip, Architecture] | None:
    """Return the chip of the card and how it is built, where that is sure.

    Told by the silicon alone; by the model only for a card that is as claimed. Chips
    that nothing tells apart count where they are built alike.
    """
    found, verdict = record.identified, record.verdict
    chips: tuple[str, ...] = ()
    if found and found.chips and found.chips[0].probability >= SURE:
        chips = (found.chips[0].chip, *found.chips[0].twins)
    elif verdict and verdict.outcome == "as claimed" and record.genuine:
        chips = record.genuine.chips
    known = [table.chips[name] for name in chips if name in table.chips]
    if not known or len(known) < len(chips):
        return None
    built = {(chip.architecture, chip.compute_capability) for chip in known}
    if len(built) > 1 or known[0].architecture not in table.architectures:
        return None
    return known[0], table.architectures[known[0].architecture]


def _upper(proof: Capacity) -> int:
    untested = max(proof.claimed_bytes - proof.covered_bytes, 0)
    return proof.proven_bytes + untested + proof.spilled_bytes


def _sockets(record: Record, table: Table | None) -> bool | None:
    """Return what was seen, else what the driver lists, else what its model has."""
    layers, seen = record.card.layers, record.inspection
    if seen and seen.outputs is not None:
        return bool(seen.outputs)
    if record.card.drives_display or (layers and layers.outputs):
        return True
    if table is None:
        return None
    verdict, found = record.verdict, record.identified
    if verdict and verdict.outcome == "as claimed" and record.genuine:
        return _have(table, record.genuine.variants)
    if found and found.chips and found.chips[0].probability >= SURE:
        return _have(table, found.chips[0].variants) or None
    return None


def _have(table: Table, ids: tuple[str, ...]) -> bool | None:
    """Return whether all cards of these rows have sockets, None where they differ."""
    has = {_has(row) for row in table.variants if row.id in ids}
    return has.pop() if len(has) == 1 else None


def _has(row: Variant) -> bool | None:
    """Return whether cards of a row have sockets, or drive the display they are in.

    Nobody ever made one for a desktop or a laptop without: where such a row names no
    socket, its maker left them to each board.
    """
    if row.outputs is None:
        return True if row.form in _SHOWING else None
    return bool(row.outputs)


def _obstacle(record: Record) -> str | None:
    """Return why all work must wait; nothing stands against a card as claimed."""
    verdict = record.verdict
    outcome = verdict.outcome if verdict else None
    if outcome == "as claimed":
        return None
    proof = record.capacity
    if proof and _lacks(record, proof, denied=outcome == "not as claimed"):
        has, told = gib(proof.proven_bytes), gib(proof.claimed_bytes)
        return (
            f"Its firmware reports {told}, but only {has} of memory are there: what a "
            "program keeps beyond them is lost. Nothing that matters should run on it "
            "until it reports what it has."
        )
    bad = max((one.failing + one.scrambled for one in _passes(proof)), default=0)
    if outcome == "faulty" or any(one.bearing == "fault" for one in record.findings):
        what = (
            f"Its memory gives back wrong data ({_cells(bad)})."
            if bad
            else "It is faulty: it gave wrong results."
        )
        return f"{what} Nothing that matters should run on it until it is repaired."
    if any(rate.wrong for rate in record.rates):
        return f"It gave wrong results. {_WAIT}"
    return None


def _lacks(record: Record, proof: Capacity, *, denied: bool) -> bool:
    for one in _passes(proof):
        if one.cells and (one.mirrored + one.hollow) / one.cells > FEW:
            return True
    return denied and any(
        one.rule in _LACKING and one.bearing == "contradicts" for one in record.findings
    )


def _passes(proof: Capacity | None) -> list[CellCounts]:
    """Return the counts of all passes, or of all blocks where no pass was ended."""
    if proof is None:
        return []
    counts = [one.counts for one in proof.passes if one.counts]
    return counts or [one.counts for one in proof.blocks]


def _cells(count: int) -> str:
    return "1 cell" if count == 1 else f"{count:,} cells"
