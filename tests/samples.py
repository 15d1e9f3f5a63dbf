"""Complete sample records, one of each kind of ending.

The H100's figures were measured on a real card; every other figure, every serial
number and every seller is invented. The relabelled card is always the same: sold as a
GeForce GTX 1070 with 8 GiB, really a GK107 with 2 GiB.
"""

from msgspec.structs import replace
from sample_1070 import mirrored_1070
from sample_h100 import genuine_h100
from sample_parts import (
    CELL,
    GIB,
    MIB,
    blocks,
    passes,
    rate,
)
from sample_structure import GP104_STRUCTURE

from reports.record import (
    CardIdentity,
    CellCounts,
    Finding,
    Host,
    Program,
    Record,
    Verdict,
)


def hollow_1070():
    """The same card under firmware that leaves the missing memory empty."""
    base = mirrored_1070()
    count = len(base.capacity.blocks)
    states = ("proven",) * 8 + ("hollow",) * (count - 8)
    return replace(
        base,
        capacity=replace(base.capacity, blocks=blocks(count, 256 * MIB, states)),
    )


def _gtx_1070_real():
    """A genuine GTX 1070, the base of the samples below."""
    base = mirrored_1070()
    size = 7936 * MIB
    cells = size // CELL
    return replace(
        base,
        seconds=41.0,
        claims=(
            base.claims[0],
            replace(base.claims[1], compute_units=15, compute_capability="6.1"),
            replace(base.claims[2], model="GP104", pci_id="10de:1b81"),
        ),
        capacity=replace(
            base.capacity,
            proven_bytes=size,
            passes=passes(
                size, 221e9, 228e9, 205e9, CellCounts(cells=cells, intact=cells)
            ),
            blocks=blocks(size // (256 * MIB), 256 * MIB),
        ),
        rates=(
            rate("fp32", "FLOP/s", 6.31e12),
            rate("fp64", "FLOP/s", 198e9),
            rate("int32", "op/s", 2.1e12),
            rate("memory_read", "B/s", 228e9),
            rate("memory_write", "B/s", 221e9),
            rate("link_up", "B/s", 12.2e9),
        ),
        structure=GP104_STRUCTURE,
        findings=(
            Finding(
                rule="compute-units",
                strength="decisive",
                bearing="agrees",
                claim="15",
                measured="15",
                envelope="15",
                sentence="It has as many compute units as a GTX 1070.",
            ),
        ),
        verdict=Verdict(
            outcome="as claimed",
            sentence="Sold as a GeForce GTX 1070 with 8.00 GiB. Found: so. As claimed.",
            reasons=("Memory, units and rates fit the claimed model.",),
        ),
    )


def failing():
    """A genuine GTX 1070 with three bad cells: faulty, not a fake."""
    base = _gtx_1070_real()
    states = ["proven"] * 31
    states[11] = "failing"
    return replace(
        base,
        capacity=replace(
            base.capacity,
            proven_bytes=7936 * MIB - 256 * MIB,
            blocks=blocks(31, 256 * MIB, states),
        ),
        findings=(
            *base.findings,
            Finding(
                rule="memory-bits",
                strength="decisive",
                bearing="fault",
                claim="",
                measured="3 cells with bit 14 of word 1 flipped",
                envelope="no wrong bit",
                sentence="Three cells lose one bit in both passes: memory is failing.",
            ),
        ),
        verdict=Verdict(
            outcome="faulty",
            sentence=(
                "Sold as a GeForce GTX 1070 with 8.00 GiB. "
                "Found: that card, with failing memory. Faulty."
            ),
            reasons=("Three cells lose one bit in both passes, at 2.75 GiB.",),
        ),
    )


def spilled():
    """A card whose last gigabyte the driver took from the PC's memory."""
    base = _gtx_1070_real()
    states = ["proven"] * 27 + ["spilled"] * 4
    return replace(
        base,
        capacity=replace(
            base.capacity,
            proven_bytes=27 * 256 * MIB,
            spilled_bytes=4 * 256 * MIB,
            blocks=blocks(31, 256 * MIB, states),
        ),
        findings=(
            *base.findings,
            Finding(
                rule="memory-size",
                strength="strong",
                bearing="open",
                claim="8.00 GiB",
                measured="6.75 GiB proven, 1.00 GiB spilled",
                envelope="7.60 to 8.00 GiB",
                sentence=(
                    "1.00 GiB ran at the host link's speed, so it lay in the PC's "
                    "memory and proves nothing about the card."
                ),
            ),
        ),
        verdict=Verdict(
            outcome="undetermined",
            sentence=(
                "Sold as a GeForce GTX 1070 with 8.00 GiB. "
                "Found: 6.75 GiB for certain. Undetermined."
            ),
            reasons=("Part of the memory was taken by another program.",),
            settle=("Close other programs that use the card and test again.",),
        ),
    )


def undetermined():
    """A card that the table does not know."""
    base = _gtx_1070_real()
    return replace(
        base,
        card=replace(base.card, label="Example Accelerator X1", index=1),
        claims=(replace(base.claims[1], model="Example Accelerator X1"),),
        genuine=None,
        findings=(
            Finding(
                rule="model-known",
                strength="decisive",
                bearing="open",
                claim="Example Accelerator X1",
                measured="no such model in the table",
                envelope="",
                sentence="The table has no genuine card of that name to compare with.",
            ),
        ),
        verdict=Verdict(
            outcome="undetermined",
            sentence=(
                "Reported as an Example Accelerator X1 with 8.00 GiB. "
                "Found: 7.75 GiB of memory. Undetermined."
            ),
            reasons=("The table has no genuine card of that name to compare with.",),
            unchecked=("Unit count, rates and PCI id: nothing to compare them with.",),
            settle=("A row for this model in the table of genuine cards.",),
        ),
    )


def interrupted():
    """Stopped while the capacity proof was reading back."""
    base = mirrored_1070()
    states = ["mirrored"] * 9 + ["unreached"] * 22
    return replace(
        base,
        interrupted=True,
        phases=(*base.phases[:1], replace(base.phases[1], outcome="interrupted")),
        capacity=replace(
            base.capacity,
            proven_bytes=0,
            passes=base.capacity.passes[:1],
            blocks=blocks(31, 256 * MIB, states, distance=2 * GIB),
        ),
        rates=(),
        structure=None,
        telemetry=None,
        findings=(),
        verdict=None,
    )


def practice(condition="mirrored"):
    """What a practice run leaves: the relabelled card, simulated."""
    base = mirrored_1070()
    return replace(
        base,
        practice=True,
        practice_condition=condition,
        card=replace(base.card, platform="practice"),
    )


def minimal():
    """The least that is a record."""
    return Record(
        program=Program(version="0.1.0"),
        practice=False,
        started="2026-11-25T10:04:00+00:00",
        depth="quick",
        host=Host(system="Linux", release="6.12", machine="x86_64", python="3.13"),
        card=CardIdentity(label="Nameless", kind="other", index=0),
    )


EVERY = {
    "genuine_h100": genuine_h100,
    "mirrored_1070": mirrored_1070,
    "hollow_1070": hollow_1070,
    "failing": failing,
    "spilled": spilled,
    "undetermined": undetermined,
    "interrupted": interrupted,
    "practice": practice,
    "minimal": minimal,
}
"""Every sample by name, to parametrise over."""
