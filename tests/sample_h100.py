"""An H100 80GB HBM3 that is what it claims: the figures are a real card's."""

from sample_parts import (
    CELL,
    GIB,
    HOST,
    PROGRAM,
    blocks,
    envelope,
    passes,
    phases,
    rate,
    telemetry,
)
from sample_structure import H100_STRUCTURE

from reports.record import (
    Capacity,
    CardIdentity,
    CellCounts,
    Claim,
    Finding,
    Genuine,
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
        structure=H100_STRUCTURE,
        telemetry=telemetry(6.2, 58.0, link=(5, 16)),
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
