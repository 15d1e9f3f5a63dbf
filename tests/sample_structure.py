"""How the chips of the sample records are built: what a survey leaves in a record.

The H100's times were measured on a real card; the others are the practice card's.
"""

from reports.record import CacheLevel, Latency, Stair, Structure

H100_US = {
    1: 187.8, 2: 187.9, 4: 188.2, 8: 187.9, 16: 188.0, 32: 187.9, 33: 188.6, 64: 187.8,
    66: 188.3, 99: 188.8, 128: 188.4, 131: 188.6, 132: 188.3, 133: 371.2, 134: 371.3,
    136: 371.8, 144: 371.0, 160: 371.8, 165: 371.8, 192: 371.6, 198: 371.3, 231: 372.1,
    256: 372.0, 263: 371.7, 264: 371.7, 265: 555.3, 266: 555.6, 297: 554.9, 330: 555.4,
}  # fmt: skip
GP104_US = {
    1: 191, 2: 191, 3: 192, 4: 192, 7: 191, 8: 192, 11: 191, 12: 192, 14: 191, 15: 191,
    16: 375, 17: 377, 18: 378, 22: 378, 26: 377, 29: 378, 30: 378, 31: 562, 32: 561,
    33: 564, 37: 564,
}  # fmt: skip
GK107_US = {1: 210.0, 2: 210.1, 3: 415.0, 4: 414.0, 5: 619.0, 6: 619.5}
_H100_NS = {
    4: 21, 16: 23, 64: 29, 128: 36, 181: 43, 256: 107, 362: 144, 512: 144, 4096: 145,
    16384: 145, 23170: 151, 32768: 264, 46341: 267, 65536: 345, 262144: 347,
}  # fmt: skip
_GP104_NS = {
    4: 49.3, 22: 49.3, 32: 85, 45: 110, 64: 121, 90: 127, 128: 129, 512: 128, 2048: 129,
    2896: 218, 4096: 264, 5792: 286, 8192: 296, 16384: 298, 262144: 299,
}  # fmt: skip
_GK107_NS = {
    4: 190, 64: 189, 256: 189, 362: 295, 512: 347, 724: 376, 1024: 386, 2048: 389,
    262144: 389,
}  # fmt: skip


def stairs(times):
    return tuple(
        Stair(groups=groups, seconds=1e-6 * us) for groups, us in times.items()
    )


def _latencies(hops):
    return tuple(
        Latency(footprint_bytes=kib << 10, hop_ns=float(ns)) for kib, ns in hops.items()
    )


def _levels(*told):
    return tuple(CacheLevel(reaches_bytes=size, hop_ns=ns) for size, ns in told)


H100_STRUCTURE = Structure(
    units=132,
    units_low=132,
    units_high=132,
    step=1.974,
    second_step=True,
    stairs=stairs(H100_US),
    link_ns=2.068,
    lane_cycles=511.5,
    warp_width=32,
    resident_groups=4,
    resident_bytes=48 << 10,
    latencies=_latencies(_H100_NS),
    levels=_levels((189_096, 21.7), (24_204_406, 147.8), (None, 352.2)),
)
GP104_STRUCTURE = Structure(
    units=15,
    units_low=15,
    units_high=15,
    step=1.969,
    second_step=True,
    stairs=stairs(GP104_US),
    link_ns=3.562,
    lane_cycles=732.3,
    warp_width=32,
    resident_groups=2,
    resident_bytes=48 << 10,
    latencies=_latencies(_GP104_NS),
    levels=_levels((33_424, 49.3), (2_139_343, 127.8), (None, 298.5)),
)
GK107_STRUCTURE = Structure(
    units=2,
    units_low=2,
    units_high=2,
    step=1.973,
    second_step=True,
    stairs=stairs(GK107_US),
    link_ns=8.517,
    lane_cycles=1349.0,
    warp_width=32,
    resident_groups=1,
    resident_bytes=48 << 10,
    latencies=_latencies(_GK107_NS),
    levels=_levels((267_394, 189.4), (None, 388.8)),
)
