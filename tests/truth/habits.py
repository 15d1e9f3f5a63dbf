"""How each architecture behaves under our kernels, for the truth bench alone.

Written out a second time on purpose, from published figures and not from
`reference/data/architectures.toml` or `reference/envelope.py`: the bench holds the
judge against numbers that it was not built from. Rows of the table are used for facts
of one card (units, clocks, bus, sizes), never for bands.

Sources, as `[name]` below:
  guide   NVIDIA, CUDA C++ Programming Guide, throughput of native arithmetic
          instructions and technical specifications per compute capability
  lai     Lai and Seznec, CGO 2013: what Fermi and Kepler reach of their peak
  jia     Jia et al., arXiv:1804.06826 and 1903.07486: Volta and Turing dissected
  volkov  Volkov, Understanding Latency Hiding on GPUs, 2016: cycles of a dependent
          multiply-add up to Pascal
  gcn     AMD, GCN (2012) and RDNA (2019) whitepapers; from memory
  app     AMD, APP OpenCL Programming Guide: TeraScale's slots, scalar code in VLIW
  xe      Intel, oneAPI GPU occupancy data: 16 vector engines a core; rates from memory
  lbm     FluidX3D README, table of 187 cards: share of memory bandwidth reached
  mei     Mei and Chu, IEEE TPDS 28(1), 2017; Luo et al. 2024; Abdelkhalik et al. 2022:
          memory latencies
  cnc     Chips and Cheese, Measuring GPU Memory Latency, 2021
  quirks  what drivers print: issue threads of ROCm, compute-runtime, darktable,
          post-rs; device listings in `tests/data/outside/printed_cards.csv`
"""

from dataclasses import dataclass, field, replace
from typing import Any

Span = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Habit:
    """One architecture: spans within which one genuine card's figure lies."""

    fp32: Span
    """Share of lanes x 2 x clock that plain multiply-add loops reach."""
    fp64: Span | None = None
    """Results a clock and unit; None: its driver offers none."""
    int32: Span
    exp2: Span
    cycles: Span
    """Clocks of one dependent multiply-add."""
    warp: tuple[int, ...]
    resident: tuple[int, int] | None
    """Groups a unit, and the bytes of local memory each of them holds."""
    counted: tuple[tuple[float, float], ...] = ((1.0, 1.0),)
    """Weight and factor of the unit count as drivers print it [quirks]."""
    paired: float = 0.0
    """Share of runs in which the staircase sees pairs of units as one."""
    boost: Span = (-0.08, 0.10)
    """Clock over the rated one on an untroubled card."""
    l1_bytes: int = 16 * 1024
    l1_cycles: Span = (30.0, 110.0)
    l2_cycles: Span = (150.0, 300.0)
    memory_ns: Span = (200.0, 650.0)
    stream: dict[str, Span] = field(default_factory=dict)
    """Share of bus x rate reached, where it differs from `STREAM`."""


STREAM: dict[str, Span] = {
    "DDR2": (0.55, 0.88),
    "DDR3": (0.55, 0.90),
    "DDR4": (0.60, 0.90),
    "GDDR3": (0.50, 0.85),
    "GDDR5": (0.74, 0.90),
    "GDDR5X": (0.74, 0.90),
    "GDDR6": (0.70, 0.94),
    "GDDR6X": (0.78, 0.94),
    "GDDR7": (0.78, 0.93),
    "HBM": (0.46, 0.80),
    "HBM2": (0.57, 0.95),
    "HBM2e": (0.60, 0.94),
    "HBM3": (0.60, 0.94),
    "HBM3e": (0.58, 0.94),
}
"""Share of bus width x data rate that streaming kernels reach: lowest healthy figure of
[lbm] to the best of the microbenchmark papers."""

KIB48 = 48 * 1024
KIB32 = 32 * 1024
KIB64 = 64 * 1024
_BOOSTED = (-0.05, 0.13)
"""Pascal and later run 3 to 10 % above the rated boost, factory overclocks on top."""

_FERMI = Habit(
    fp32=(0.88, 0.99), fp64=(16, 16), int32=(15, 16), exp2=(3.6, 4.0),
    cycles=(18, 18.5), warp=(32,), resident=(1, KIB48), boost=(-0.02, 0.12),
    l2_cycles=(350, 480),
    memory_ns=(300, 650), stream={"GDDR5": (0.70, 0.90)},
)  # fmt: skip
_KEPLER = Habit(
    fp32=(0.64, 0.94), fp64=(8, 8), int32=(30, 32), exp2=(28, 32), cycles=(9, 9.5),
    warp=(32,), resident=(1, KIB48), boost=(-0.04, 0.10), l2_cycles=(180, 260),
    memory_ns=(250, 650), stream={"GDDR5": (0.57, 0.86)},
)  # fmt: skip
_MAXWELL = Habit(
    fp32=(0.93, 0.99), fp64=(3.8, 4), int32=(25, 43), exp2=(30, 32), cycles=(6, 6.2),
    warp=(32,), resident=(2, KIB48), boost=(-0.04, 0.13), l1_bytes=24 * 1024,
    l1_cycles=(75, 95), l2_cycles=(190, 230), memory_ns=(230, 600),
    stream={"GDDR5": (0.64, 0.88)},
)  # fmt: skip
_PASCAL = Habit(
    fp32=(0.93, 0.99), fp64=(3.8, 4), int32=(25, 43), exp2=(30, 32), cycles=(6, 6.2),
    warp=(32,), resident=(2, KIB48), boost=_BOOSTED, l1_bytes=24 * 1024,
    l1_cycles=(75, 95), l2_cycles=(200, 250), memory_ns=(230, 550),
)  # fmt: skip
_AMPERE = Habit(
    fp32=(0.93, 0.99), fp64=(2, 4), int32=(60, 64), exp2=(15, 16), cycles=(4, 4.3),
    warp=(32,), resident=(2, KIB48), boost=_BOOSTED, l1_bytes=128 * 1024,
    l1_cycles=(33, 45), l2_cycles=(200, 280), memory_ns=(205, 500),
)  # fmt: skip
_GCN = Habit(
    fp32=(0.90, 0.99), fp64=(3.6, 4), int32=(12, 16), exp2=(14, 16), cycles=(4, 4.6),
    warp=(64,), resident=(2, KIB32), boost=(-0.12, 0.10), l1_cycles=(100, 140),
    l2_cycles=(180, 300), memory_ns=(250, 650),
    counted=((0.995, 1.0), (0.005, 0.5)), stream={"GDDR5": (0.52, 0.91)},
)  # fmt: skip
_RDNA = Habit(
    fp32=(0.88, 0.98), fp64=(3.6, 4), int32=(13, 16), exp2=(14, 16), cycles=(5, 6),
    warp=(32, 32, 32, 64), resident=(2, KIB32), boost=(-0.08, 0.12), paired=0.25,
    counted=((0.45, 0.5), (0.50, 1.0), (0.05, 2.0)), l1_cycles=(60, 130),
    l2_cycles=(130, 220), memory_ns=(210, 450), stream={"GDDR6": (0.56, 0.92)},
)  # fmt: skip
_TERASCALE = Habit(
    fp32=(0.20, 0.95), int32=(12, 48), exp2=(10, 16), cycles=(8, 10), warp=(64,),
    resident=(1, KIB32), boost=(-0.05, 0.10), l1_cycles=(150, 250),
    l2_cycles=(300, 450), memory_ns=(300, 700),
    stream={"GDDR5": (0.25, 0.88), "DDR3": (0.25, 0.88), "DDR2": (0.25, 0.88),
            "GDDR3": (0.25, 0.85)},
)  # fmt: skip
_XE = Habit(
    fp32=(0.80, 0.98), int32=(24, 64), exp2=(12, 32), cycles=(6, 10), warp=(8, 16, 32),
    resident=(2, KIB64), boost=(-0.08, 0.10), counted=((0.9, 16.0), (0.1, 1.0)),
    l1_bytes=192 * 1024, l1_cycles=(80, 150), l2_cycles=(200, 400),
    memory_ns=(250, 700), stream={"GDDR6": (0.48, 0.85)},
)  # fmt: skip


def _like(base: Habit, **changed: Any) -> Habit:
    return replace(base, **changed)


HABITS: dict[str, Habit] = {
    # by guide, lai, volkov
    "fermi-2.0": _FERMI,
    "fermi-2.1": _like(_FERMI, fp32=(0.62, 0.95), fp64=(4, 4), exp2=(7, 8)),
    "kepler-3.0": _KEPLER,
    "kepler-3.5": _KEPLER,
    "maxwell-5": _MAXWELL,
    "pascal-6.0": _like(
        _PASCAL, fp64=(30, 32), int32=(12, 21), exp2=(14, 16), resident=(1, KIB48)
    ),
    "pascal-6.1": _PASCAL,
    # by jia, guide
    "volta-7.0": _like(_AMPERE, fp64=(30, 32), memory_ns=(230, 450)),
    "turing-7.5": _like(_AMPERE, fp64=(1.9, 2), resident=(1, KIB48)),
    "ampere-8.0": _like(_AMPERE, fp64=(30, 32), resident=(3, KIB48)),
    "ampere-8.6": _AMPERE,
    "ada-8.9": _AMPERE,
    "hopper-9.0": _like(
        _AMPERE,
        fp64=(61, 64),
        resident=(4, KIB48),
        boost=(-0.10, 0.02),
        l1_bytes=256 * 1024,
        memory_ns=(250, 350),
    ),
    "blackwell-12.0": _like(_AMPERE, int32=(60, 128)),
    "blackwell-10.0": _like(
        _AMPERE,
        fp64=(58, 64),
        int32=(60, 128),
        exp2=(15, 32),
        resident=(4, KIB48),
        boost=(-0.10, 0.03),
        l1_bytes=256 * 1024,
    ),
    # slots that scalar code leaves empty: app
    "terascale-2": _TERASCALE,
    "terascale-3": _like(_TERASCALE, fp64=(8, 16), int32=(12, 48)),
    # by gcn, lbm
    "gcn-1": _like(_GCN, stream={"GDDR5": (0.42, 0.90), "DDR3": (0.50, 0.88)}),
    "gcn-2": _GCN,
    "gcn-3": _GCN,
    "gcn-4": _GCN,
    "gcn-5": _like(_GCN, boost=(-0.18, 0.06)),
    "rdna-1": _RDNA,
    "rdna-2": _RDNA,
    # half of the dual-issue peak where the compiler does not pair instructions
    "rdna-3": _like(
        _RDNA, fp32=(0.44, 0.95), fp64=(2, 4), stream={"GDDR6": (0.41, 0.92)}
    ),
    "rdna-4": _like(
        _RDNA, fp32=(0.44, 0.95), fp64=(2, 4), stream={"GDDR6": (0.70, 0.92)}
    ),
    "cdna-1": _like(_GCN, fp64=(28, 32), stream={}),
    "cdna-2": _like(_GCN, fp32=(0.90, 1.90), fp64=(58, 64), cycles=(4, 8), stream={}),
    "cdna-3": _like(_GCN, fp32=(0.90, 1.90), fp64=(56, 64), cycles=(4, 8), stream={}),
    # by xe
    "xe-hpg": _XE,
    "xe2-hpg": _like(
        _XE, counted=((0.9, 8.0), (0.1, 1.0)), stream={"GDDR6": (0.70, 0.92)}
    ),
}

RESIDENT_BY_CAPABILITY = {"3.7": 2, "5.0": 1, "5.2": 2}
"""Groups of 48 KiB a unit where chips of one architecture differ [guide]."""
L2_KNEE: Span = (0.5, 1.25)
"""Knee of the latency curve over the published last-level size; two partitions show the
near half [mei]."""
