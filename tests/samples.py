"""Complete sample records, one of each kind of ending.

The H100's figures were measured on a real card; every other figure, every serial
number and every seller is invented. The relabelled card is always the same: sold as a
GeForce GTX 1070 with 8 GiB, really a GK107 with 2 GiB.
"""

from msgspec.structs import replace
from sample_parts import (
    CELL,
    GIB,
    HOST,
    MIB,
    PROGRAM,
    blocks,
    envelope,
    passes,
    phases,
    rate,
    telemetry,
)

from reports.record import (
    Capacity,
    CardIdentity,
    CellCounts,
    Claim,
    Finding,
    Genuine,
    Host,
    Program,
    Rate,
    Record,
    Verdict,
)

H100_ENVELOPES = (
    envelope(
        "memory_bytes", 76 * GIB, 80 * GIB, "B", "80 GiB fitted, 95 to 100 % seen"
    ),
    envelope("compute_units", 132, 132, "", "132 of 144 units enabled"),
    envelope(
        "fp32", 50.2e12, 66.9e12, "FLOP/s", "132 x 128 x 2 x 1.98 GHz, 75 to 100 %"
    ),
    envelope("fp64", 25.1e12, 33.5e12, "FLOP/s", "half of fp32"),
    envelope(
        "memory_read", 2.68e12, 3.35e12, "B/s", "5120 bit x 5.2 GT/s, 80 to 100 %"
    ),
    envelope("memory_write", 2.68e12, 3.35e12, "B/s", "as reading"),
    envelope("memory_copy", 2.35e12, 3.35e12, "B/s", "as reading, 70 to 100 %"),
    envelope("link_up", 20e9, 63e9, "B/s", "PCI Express 5.0 x 16"),
    envelope("link_down", 20e9, 63e9, "B/s", "PCI Express 5.0 x 16"),
)


def genuine_h100():
    """An H100 80GB HBM3 that is what it claims: the figures are a real card's."""
    size = 79 * GIB
    cells = size // CELL
    counts = CellCounts(cells=cells, intact=cells)
    return Record(
        program=PROGRAM,
        practice=False,
        started="2026-11-25T19:33:00+00:00",
        seconds=6.21,
        depth="standard",
        host=HOST,
        card=CardIdentity(
            label="NVIDIA H100 80GB HBM3",
            kind="gpu",
            index=0,
            pci_address="0000:04:00.0",
            platform="NVIDIA CUDA",
            paired_by="PCI address",
        ),
        claims=(
            Claim(
                layer="opencl",
                source="OpenCL device query",
                model="NVIDIA H100 80GB HBM3",
                vendor="NVIDIA Corporation",
                memory_bytes=85_029_158_912,
                compute_units=132,
                compute_capability="9.0",
                clock_mhz=1980,
                driver="580.159.04",
            ),
            Claim(
                layer="nvml",
                source="NVML",
                model="NVIDIA H100 80GB HBM3",
                memory_bytes=85_520_809_984,
                pci_id="10de:2330",
                subsystem="10de:16c1",
                clock_mhz=1980,
                memory_clock_mhz=2619,
                link_generation=5,
                link_width=16,
                driver="580.159.04",
                firmware="96.00.99.00.01",
            ),
            Claim(
                layer="pci",
                source="/sys/bus/pci/devices/0000:04:00.0",
                pci_id="10de:2330",
                revision="a1",
                link_generation=5,
                link_width=16,
            ),
        ),
        phases=phases(6.21),
        capacity=Capacity(
            claimed_bytes=85_520_809_984,
            free_bytes=84_900_000_000,
            covered_bytes=size,
            proven_bytes=size,
            ended_by="driver refused",
            refusal="MEM_OBJECT_ALLOCATION_FAILURE",
            nonce="9f3a5c0112e4d877",
            passes=passes(size, 3.20e12, 3.08e12, 2.65e12, counts),
            blocks=blocks(79, GIB, write=GIB / 3.20e12, verify=GIB / 3.08e12),
        ),
        rates=(
            rate("fp32", "FLOP/s", 64.8e12),
            rate("fp64", "FLOP/s", 33.1e12),
            rate("fp16", "FLOP/s", 116e12),
            rate("int32", "op/s", 33.2e12),
            rate("transcendental", "op/s", 4.05e12),
            rate("memory_read", "B/s", 3.08e12),
            rate("memory_write", "B/s", 3.20e12),
            rate("memory_copy", "B/s", 2.71e12),
            rate("local_memory", "B/s", 32.9e12),
            rate("link_up", "B/s", 53.7e9),
            rate("link_down", "B/s", 54.2e9),
        ),
        telemetry=telemetry(6.2, 58.0),
        genuine=Genuine(
            model="NVIDIA H100 80GB HBM3",
            chips=("GH100",),
            variants=("h100-sxm5-80",),
            envelopes=H100_ENVELOPES,
            sources=("NVIDIA H100 datasheet",),
        ),
        findings=(
            Finding(
                rule="memory-size",
                strength="decisive",
                bearing="agrees",
                claim="79.6 GiB",
                measured="79.0 GiB proven",
                envelope="76.0 to 80.0 GiB",
                sentence="All the memory that the driver would give kept its data.",
                sources=("NVIDIA H100 datasheet",),
            ),
            Finding(
                rule="pci-id",
                strength="decisive",
                bearing="agrees",
                claim="NVIDIA H100 80GB HBM3",
                measured="10de:2330",
                envelope="10de:2330",
                sentence="The PCI id is that of the model it claims to be.",
            ),
            Finding(
                rule="fp32-rate",
                strength="strong",
                bearing="agrees",
                claim="66.9 TFLOP/s",
                measured="64.8 TFLOP/s",
                envelope="50.2 to 66.9 TFLOP/s",
                sentence="Single precision runs as fast as the claimed chip does.",
            ),
            Finding(
                rule="memory-bandwidth",
                strength="strong",
                bearing="agrees",
                claim="3350 GB/s",
                measured="3080 GB/s",
                envelope="2680 to 3350 GB/s",
                sentence="The memory is as wide and as fast as the model's.",
            ),
        ),
        verdict=Verdict(
            outcome="as claimed",
            sentence=(
                "Reported as an NVIDIA H100 80GB HBM3. "
                "Found: what that card is, with 79.0 GiB proven. As claimed."
            ),
            reasons=(
                "All 79.0 GiB that the driver gave kept their data in both passes.",
                "The PCI id, the unit count and every rate fit the claimed model.",
            ),
        ),
    )


GTX_1070 = Genuine(
    model="GeForce GTX 1070",
    chips=("GP104",),
    variants=("gtx-1070-8",),
    envelopes=(
        envelope("memory_bytes", 7.6 * GIB, 8 * GIB, "B", "8 GiB fitted"),
        envelope("compute_units", 15, 15, "", "15 of 20 units enabled"),
        envelope("fp32", 4.8e12, 7.4e12, "FLOP/s", "15 x 128 x 2 x 1.68 GHz"),
        envelope("fp64", 150e9, 231e9, "FLOP/s", "1/32 of fp32"),
        envelope("memory_read", 192e9, 256e9, "B/s", "256 bit x 8 GT/s"),
        envelope("memory_write", 192e9, 256e9, "B/s", "256 bit x 8 GT/s"),
    ),
    sources=("GeForce GTX 1070 product page",),
)


def mirrored_1070():
    """Sold as a GTX 1070 with 8 GiB; a GK107 with 2 GiB whose memory wraps around."""
    size = 7936 * MIB
    block = 256 * MIB
    count = size // block
    wrapped = count - 8
    taken = blocks(
        count, block, ("mirrored",) * wrapped, distance=2 * GIB, write=4e-3, verify=4e-3
    )
    counts = CellCounts(
        cells=size // CELL,
        intact=2 * GIB // CELL,
        mirrored=(size - 2 * GIB) // CELL,
    )
    return Record(
        program=PROGRAM,
        practice=False,
        started="2026-11-25T10:04:00+00:00",
        seconds=94.0,
        depth="standard",
        host=replace(HOST, system="Windows", release="11", machine="AMD64"),
        card=CardIdentity(
            label="GeForce GTX 1070",
            kind="gpu",
            index=0,
            pci_address="0000:01:00.0",
            platform="NVIDIA CUDA",
            paired_by="PCI address",
            drives_display=False,
        ),
        claims=(
            Claim(
                layer="listing",
                source="said on the command line",
                model="GeForce GTX 1070",
                memory_bytes=8 * GIB,
            ),
            Claim(
                layer="opencl",
                source="OpenCL device query",
                model="GeForce GTX 1070",
                vendor="NVIDIA Corporation",
                memory_bytes=8 * GIB,
                compute_units=2,
                compute_capability="3.0",
                clock_mhz=1058,
                driver="474.30",
            ),
            Claim(
                layer="pci",
                source="the bus",
                model="GK107",
                pci_id="10de:0fc6",
                revision="a1",
                link_generation=3,
                link_width=16,
            ),
        ),
        phases=phases(94.0),
        capacity=Capacity(
            claimed_bytes=8 * GIB,
            free_bytes=8100 * MIB,
            covered_bytes=size,
            proven_bytes=2 * GIB,
            ended_by="driver refused",
            refusal="OUT_OF_RESOURCES",
            nonce="00c4419be2a07d31",
            passes=passes(size, 66e9, 71e9, 60e9, counts),
            blocks=taken,
        ),
        rates=(
            rate("fp32", "FLOP/s", 0.78e12, jitter=0.02),
            rate("fp64", "FLOP/s", 33.2e9),
            Rate(
                name="fp16",
                unit="FLOP/s",
                missing="the driver does not offer half precision",
            ),
            rate("int32", "op/s", 271e9),
            rate("memory_read", "B/s", 71.3e9),
            rate("memory_write", "B/s", 66.0e9),
            rate("link_up", "B/s", 11.9e9, remarks=("measured through pinned memory",)),
        ),
        telemetry=telemetry(94.0, 71.0, core=1058.0, power=60.0, limit=150.0),
        genuine=GTX_1070,
        findings=(
            Finding(
                rule="memory-bandwidth",
                strength="supporting",
                bearing="contradicts",
                claim="256 GB/s",
                measured="71.3 GB/s",
                envelope="192 to 256 GB/s",
                sentence=(
                    "The memory is a third as fast as the model's; "
                    "slowness alone decides nothing."
                ),
            ),
            Finding(
                rule="memory-size",
                strength="decisive",
                bearing="contradicts",
                claim="8.00 GiB",
                measured="2.00 GiB proven, the rest mirrors it",
                envelope="7.60 to 8.00 GiB, none mirrored",
                sentence=(
                    "74.2 % of the cells show the data of another address, always "
                    "2.00 GiB away: that memory is not there."
                ),
                sources=("this run's capacity proof",),
            ),
            Finding(
                rule="compute-units",
                strength="decisive",
                bearing="contradicts",
                claim="15",
                measured="2",
                envelope="15",
                sentence="No GTX 1070 has two compute units.",
                sources=("GeForce GTX 1070 product page",),
            ),
            Finding(
                rule="pci-id",
                strength="decisive",
                bearing="contradicts",
                claim="GeForce GTX 1070",
                measured="10de:0fc6, a GK107",
                envelope="10de:1b81",
                sentence="The bus reports the id of another chip.",
                sources=("PCI id list",),
            ),
            Finding(
                rule="fp16-rate",
                strength="supporting",
                bearing="open",
                claim="",
                measured="not measured",
                envelope="0.0750 to 0.116 TFLOP/s",
                sentence="Half precision could not be checked: the driver lacks it.",
            ),
        ),
        verdict=Verdict(
            outcome="not as claimed",
            sentence=(
                "Sold as a GeForce GTX 1070 with 8.00 GiB. "
                "Found: a GK107 with 2.00 GiB. Not as claimed."
            ),
            reasons=(
                "Three quarters of the memory mirror the rest: 2.00 GiB are there.",
                "It has 2 compute units; a genuine one has 15.",
                "The bus reports a GK107.",
            ),
            unchecked=(
                "Half precision could not be checked: the driver lacks it.",
                "The listing's clock was not given, so it was not compared.",
            ),
        ),
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
