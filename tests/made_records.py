"""Records made up from rows of the table: genuine cards, and ways to forge them.

The physics here is written out again, not taken from the envelopes, so that both are
held against each other: peak x what published kernels reach.
"""

from msgspec.structs import replace

from reports.record import (
    CacheLevel,
    Capacity,
    CardIdentity,
    CellCounts,
    Claim,
    Host,
    Pass,
    Program,
    Rate,
    Record,
    Sample,
    Structure,
    Telemetry,
)

GIB = 2**30
CELL = 16
NAMES = ("fp32", "fp64", "int32", "transcendental")
MEMORY = ("memory_read", "memory_write", "memory_copy")
UNITS = {"fp32": "FLOP/s", "fp64": "FLOP/s", "int32": "op/s", "transcendental": "op/s"}
REACHED = {
    "fermi-2.1": 0.67,
    "kepler-3.0": 0.70,
    "kepler-3.5": 0.70,
    "terascale-2": 0.80,
    "terascale-3": 0.80,
    "rdna-3": 0.50,
    "rdna-4": 0.50,
}
"""Share of peak fp32 that plain kernels reach; 0.97 elsewhere."""
MIDDLE = {
    "fermi-2.0": (16, 16, 4), "fermi-2.1": (4, 16, 8), "kepler-3.0": (8, 32, 32),
    "kepler-3.5": (8, 32, 32), "maxwell-5": (4, 43, 32), "pascal-6.0": (32, 21, 16),
    "pascal-6.1": (4, 43, 32), "volta-7.0": (32, 64, 16), "turing-7.5": (2, 64, 16),
    "ampere-8.0": (32, 64, 16), "ampere-8.6": (2, 64, 16), "ada-8.9": (2, 64, 16),
    "hopper-9.0": (64, 64, 16), "blackwell-12.0": (2, 64, 16),
    "blackwell-10.0": (64, 64, 16), "cdna-1": (32, 16, 16), "cdna-2": (64, 16, 16),
    "cdna-3": (64, 16, 16),
    "terascale-2": (None, 16, 16), "terascale-3": (16, 16, 16),
    "xe-hpg": (None, 32, 32), "xe2-hpg": (None, 32, 32),
}  # fmt: skip
"""fp64, int32 and exp2 results a clock and unit; CUDA C++ Programming Guide for NVIDIA
(Volkov 2016, Jia 2018 for what needs several instructions), vendors' guides else, from
memory."""

CYCLES = {
    "fermi-2.0": 18, "fermi-2.1": 18, "kepler-3.0": 9, "kepler-3.5": 9, "maxwell-5": 6,
    "pascal-6.0": 6, "pascal-6.1": 6, "terascale-2": 8, "terascale-3": 8, "gcn-1": 4,
    "gcn-2": 4, "gcn-3": 4, "gcn-4": 4, "gcn-5": 4, "rdna-1": 5, "rdna-2": 5,
    "rdna-3": 5, "rdna-4": 5, "xe-hpg": 8, "xe2-hpg": 8,
}  # fmt: skip
"""Clocks of a dependent multiply-add; 4 elsewhere. Volkov 2016 up to Pascal, CUDA C++
Programming Guide since Volta, AMD's whitepapers from memory."""
RESIDENT = {
    "2.0": 1, "2.1": 1, "3.0": 1, "3.5": 1, "3.7": 2, "5.0": 1, "5.2": 2, "6.0": 1,
    "6.1": 2, "7.0": 2, "7.5": 1, "8.0": 3, "8.6": 2, "8.9": 2, "9.0": 4, "10.0": 4,
    "12.0": 2,
}  # fmt: skip
"""Groups of 48 KiB on a unit: its local memory as CUDA C++ Programming Guide has it,
technical specifications per compute capability; from 8.0 on 1 KiB a group is taken."""


def structure(row, table, *, clock=1.0, units=None, cache=0.7, **fields):
    """How the chip of this row shows itself, with a staircase that is clear."""
    chip = table.chip(row)
    units = row.units if units is None else units
    link = 1e9 * CYCLES.get(row.architecture, 4) / (row.clock_hz * clock)
    fp32 = rate_values(row, clock)["fp32"]
    l2 = 1024 * (row.l2_kib or chip.l2_kib or 0)
    levels = (CacheLevel(hop_ns=300.0),)
    if l2:
        levels = (CacheLevel(reaches_bytes=int(l2 * cache), hop_ns=150.0), *levels)
    wide = {"AMD": 64, "NVIDIA": 32, "Intel": 16}[row.vendor]
    settings = {
        "units": units,
        "units_low": units,
        "units_high": units,
        "step": 1.96,
        "second_step": True,
        "link_ns": link,
        "lane_cycles": fp32 / 2 / row.units * link * 1e-9,
        "warp_width": 32 if "rdna" in row.architecture else wide,
        "resident_groups": RESIDENT.get(chip.compute_capability),
        "resident_bytes": 49152 if chip.compute_capability else None,
        "levels": levels,
    }
    return Structure(**(settings | fields))


def built(record, row, table, **fields):
    """The record with the structure of a card of this row."""
    return replace(record, structure=structure(row, table, **fields))


def rate_values(row, clock=1.0, memory=0.80, reached=None):
    """Rates that a genuine card of this row shows at `clock` times its rated clock."""
    fp64, int32, exp2 = MIDDLE.get(row.architecture, (4, 16, 16))
    fp64 = row.fp64 if row.fp64 is not None else fp64
    hz = row.clock_hz * clock * row.units
    lanes = row.shaders / row.units
    share = REACHED.get(row.architecture, 0.97) if reached is None else reached
    values = {
        "fp32": hz * lanes * 2 * share,
        "fp64": hz * fp64 * 2 * 0.95 if fp64 else None,
        "int32": hz * int32 * 2 * 0.95,
        "transcendental": hz * exp2 * 0.95,
    }
    return values | dict.fromkeys(MEMORY, row.bandwidth * memory)


def rates(values):
    return tuple(
        Rate(
            name=name,
            unit=UNITS.get(name, "B/s"),
            value=value,
            missing=None if value else "the driver has no fp64",
            checked=4096 if value else 0,
        )
        for name, value in values.items()
    )


def capacity(claimed, *, real=None, beyond="mirrored", share=0.985, free=None, **more):
    """A proof over `claimed` bytes of which `real` exist; the rest is `beyond`."""
    covered = int(claimed * share) // CELL * CELL
    real = covered if real is None else min(real // CELL * CELL, covered)
    cells = covered // CELL
    counts = CellCounts(
        cells=cells, intact=real // CELL, **{beyond: cells - real // CELL}
    )
    settings = {
        "claimed_bytes": claimed,
        "free_bytes": covered if free is None else free,
        "covered_bytes": covered,
        "proven_bytes": real,
        "ended_by": "driver refused",
        "nonce": "5eed",
        "passes": (
            a_pass("write", covered),
            a_pass("turn", covered, counts),
            a_pass("verify", covered, counts),
        ),
    }
    return Capacity(**(settings | more))


def a_pass(name, size, counts=None):
    return Pass(
        name=name,
        upward=name != "verify",
        complemented=False,
        bytes_moved=size,
        seconds=1.0,
        counts=counts,
    )


def telemetry(core=None, temperature=62.0, throttle=(), busy=0.0, source="NVML"):
    return Telemetry(
        source=source,
        slowdown_c=95.0,
        samples=(
            Sample(at_seconds=0.0, phase="before", utilisation_percent=busy),
            *(
                Sample(
                    at_seconds=float(place + 1),
                    phase=name,
                    core_mhz=core,
                    temperature_c=temperature,
                    throttle=throttle,
                )
                for place, name in enumerate((*NAMES, *MEMORY))
            ),
        ),
    )


def genuine(row, table, *, shown=0.985, clock=1.0, listed=True, count=1.0, **values):
    """The record of a genuine card of this row, all measured, as its driver shows."""
    chip = table.chip(row)
    size = int(row.memory_bytes * shown)
    pci = row.pci[0] if row.pci else None
    claims = [
        Claim(
            layer="opencl",
            source=f"OpenCL, platform {row.vendor}",
            model=row.model,
            memory_bytes=size,
            compute_units=int(row.units * count),
            compute_capability=chip.compute_capability,
            gfx_target=chip.gfx[0] if chip.gfx else None,
        ),
        Claim(layer="pci", source="PCI", pci_id=pci),
    ]
    if row.vendor == "NVIDIA":
        claims.append(
            Claim(
                layer="nvml",
                source="NVML",
                model=f"NVIDIA {row.model}",
                memory_bytes=size,
                pci_id=pci,
                cores=row.shaders,
                bus_width_bits=row.bus_bits,
                compute_capability=chip.compute_capability,
                free_bytes=size,
            )
        )
    if listed:
        claims.insert(
            0,
            Claim(
                layer="listing",
                source="as given",
                model=row.model,
                memory_bytes=row.memory_bytes,
            ),
        )
    return Record(
        program=Program(version="0.1.0"),
        practice=False,
        started="2026-11-25T12:00:00Z",
        depth="standard",
        host=Host(system="Linux", release="6", machine="x86_64", python="3.13"),
        card=CardIdentity(
            label=row.model, kind="gpu", index=0, platform=f"{row.vendor} platform"
        ),
        claims=tuple(claims),
        capacity=capacity(size),
        rates=rates(rate_values(row, clock, **values)),
        structure=structure(row, table, clock=clock),
        telemetry=telemetry(row.clock_hz / 1e6 * clock),
    )


def with_claims(record, layers=None, **fields):
    """The record with `fields` changed in the claims of `layers` (all but listing)."""
    layers = layers or ("opencl", "nvml", "pci", "driver")
    return replace(
        record,
        claims=tuple(
            replace(claim, **fields) if claim.layer in layers else claim
            for claim in record.claims
        ),
    )


def listed_as(record, model, memory_bytes=None):
    """The record with another listing over it."""
    told = Claim(
        layer="listing", source="as given", model=model, memory_bytes=memory_bytes
    )
    rest = tuple(claim for claim in record.claims if claim.layer != "listing")
    return replace(record, claims=(told, *rest))


def with_rate(record, name, **fields):
    """The record with one rate changed."""
    return replace(
        record,
        rates=tuple(
            replace(rate, **fields) if rate.name == name else rate
            for rate in record.rates
        ),
    )


def one(table, name, **wanted):
    """The first row of a name with these fields."""
    rows = [
        row
        for row in table.resolve(name)
        if all(getattr(row, key) == value for key, value in wanted.items())
    ]
    return rows[0]
