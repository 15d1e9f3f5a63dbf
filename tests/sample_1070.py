"""The relabelled card: sold as a GeForce GTX 1070 with 8 GiB, a GK107 with 2 GiB."""

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
from sample_structure import GK107_STRUCTURE

from reports.record import (
    Capacity,
    CardIdentity,
    CellCounts,
    Claim,
    Finding,
    Genuine,
    Rate,
    Record,
    Verdict,
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
        structure=GK107_STRUCTURE,
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
