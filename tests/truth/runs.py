"""Whole records for the truth bench: a genuine card's run, and a forged card's.

Puts together what `noise.py`, `measured_structure.py` and `printed.py` draw. A forged
card is the silicon of one row under the claims of another.
"""

from dataclasses import dataclass
from random import Random

from truth.measured_structure import structure
from truth.noise import MEMORY, RATES, Silicon, Troubles, measured, shown, silicon
from truth.noise import troubles as beset_by
from truth.printed import Print, claims, listing

from reference.rows import Variant
from reference.table import Table
from reports.record import (
    Capacity,
    CardIdentity,
    CellCounts,
    Claim,
    Host,
    Pass,
    Phase,
    Program,
    Rate,
    Record,
    Sample,
    Structure,
    Telemetry,
)

CELL = 16
UNIT = dict.fromkeys(RATES, "B/s") | {
    "fp32": "FLOP/s", "fp64": "FLOP/s", "fp16": "FLOP/s", "int32": "op/s",
    "transcendental": "op/s",
}  # fmt: skip
QUICK = ("fp32", "fp64", "memory_read", "memory_write")
PROGRAM = Program(version="0")
HOSTS = tuple(
    Host(system=system, release="6", machine=machine, python="3.13")
    for system, machine in (
        ("Linux", "x86_64"), ("Windows", "AMD64"), ("Windows", "x86"),
    )
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Run:
    """One simulated run and the truth of it."""

    record: Record
    true: Variant
    claimed: Variant
    troubles: Troubles
    lies: tuple[str, ...] = ()
    table: Table
    told: tuple[Variant, ...] = ()
    """All rows that the name as printed means."""


def genuine(rng: Random, row: Variant, table: Table) -> Run:
    """Return a run of a genuine card of this row."""
    return _run(rng, row, row, table, ())


def forged(rng: Random, true: Variant, claimed: Variant, table: Table) -> Run:
    """Return a run of a card of `true` that is made to look like `claimed`.

    Name, PCI id and memory always lie; what the driver takes from the chip itself
    (capability, target, units, bus) lies in half of the runs each.
    """
    lies = []
    if true.vendor != claimed.vendor or rng.random() < 0.5:
        lies.append("counts")
    if true.memory_bytes < claimed.memory_bytes:
        lies.append(rng.choice(("mirrored", "hollow", "small")))
    return _run(rng, true, claimed, table, tuple(lies))


def _run(
    rng: Random, true: Variant, claimed: Variant, table: Table, lies: tuple[str, ...]
) -> Run:
    beset = beset_by(rng, true)
    chip = silicon(rng, true, beset)
    host = rng.choices(HOSTS, (0.6, 0.395, 0.005))[0]
    named = Print(rng, claimed, table.chip(claimed))
    counting = Print(rng, true, table.chip(true))
    if true is claimed or "counts" in lies:
        counting = named
    size = _printed(rng, true, claimed, lies, host)
    depth = rng.choices(("quick", "standard", "thorough"), (0.2, 0.7, 0.1))[0]
    free = int(size * (1.0 - beset.held) * rng.uniform(0.94, 1.0))
    layers = claims(
        rng,
        named,
        counting,
        size,
        nvml=rng.random() < 0.8,
        pci=rng.random() < 0.85,
        free=free,
    )
    if "small" in lies or rng.random() < 0.65:
        sized = "small" in lies or rng.random() < 0.7
        layers.insert(0, listing(rng, claimed, sized=sized))
    proof = _proof(rng, true, size, free, lies)
    stopped = rng.random() < 0.02
    rates = _rates(rng, true, chip, beset, depth)
    fp32 = next((rate.value for rate in rates if rate.name == "fp32"), None)
    built: Structure | None = None
    if rng.random() > 0.05 and depth != "quick":  # which leaves it out
        capability = table.chip(true).compute_capability
        built = structure(rng, true, chip, capability, beset, fp32)
    phases: tuple[Phase, ...] = ()
    if stopped:
        rates, built = rates[: rng.randrange(len(rates))], None
    elif rng.random() < 0.005:
        phases = (_lost(rng),)
    record = Record(
        program=PROGRAM,
        practice=False,
        interrupted=stopped,
        started="2026-11-25T12:00:00Z",
        depth=depth,
        host=host,
        card=CardIdentity(
            label=layers[0].model or "card",
            kind="gpu",
            index=0,
            platform=next(
                one.source.rpartition("platform ")[2]
                for one in layers
                if one.layer == "opencl"
            ),
        ),
        claims=_shuffled(rng, layers),
        phases=phases,
        capacity=proof if rng.random() > 0.003 else None,
        rates=rates,
        structure=built,
        telemetry=_telemetry(rng, true, chip, beset, rates),
    )
    return Run(
        record=record,
        true=true,
        claimed=claimed,
        troubles=beset,
        lies=lies,
        table=table,
    )


def _shuffled(rng: Random, layers: list[Claim]) -> tuple[Claim, ...]:
    rng.shuffle(layers)
    return tuple(layers)


def _printed(
    rng: Random, true: Variant, claimed: Variant, lies: tuple[str, ...], host: Host
) -> int:
    """Return the size that the driver prints."""
    teller = true if "small" in lies else claimed
    size = int(teller.memory_bytes * shown(rng, teller))
    if host.machine == "x86":
        size = min(size, 3 * 2**30 + 2**29)
    return size // 2**20 * 2**20


def _lost(rng: Random) -> Phase:
    return Phase(
        name=rng.choice(("turn", "verify", "local_memory")),
        outcome="failed",
        started_seconds=1.0,
        seconds=1.0,
        detail="the device was lost",
    )


def _proof(
    rng: Random, true: Variant, size: int, free: int, lies: tuple[str, ...]
) -> Capacity:
    limited = rng.random() < 0.03
    spill = 0
    covered = int(free * rng.uniform(0.97, 0.995)) // CELL * CELL
    if limited:
        covered = min(covered, int(size * rng.uniform(0.1, 0.9))) // CELL * CELL
    elif rng.random() < 0.02:
        spill = int(covered * rng.uniform(0.01, 0.4)) // CELL * CELL
    beyond = next((lie for lie in lies if lie in ("mirrored", "hollow")), None)
    held = covered - spill
    real = held
    if beyond:
        real = min(int(true.memory_bytes * 0.99) // CELL * CELL, held)
    cells, intact = held // CELL, real // CELL
    clean = CellCounts(
        cells=cells, intact=intact, **{beyond or "hollow": cells - intact}
    )
    first = clean
    if intact == cells and rng.random() < 0.0005:
        first = CellCounts(cells=cells, intact=cells - 1, failing=1)
    return Capacity(
        claimed_bytes=size,
        free_bytes=free if rng.random() < 0.9 else None,
        covered_bytes=covered,
        proven_bytes=real,
        spilled_bytes=spill,
        ended_by="limit asked for" if limited else "driver refused",
        nonce="5eed",
        passes=(
            _pass("write", covered, None),
            _pass("verify", covered, first),
            _pass("turn", covered, clean),
            _pass("verify", covered, clean),
        ),
    )


def _pass(name: str, size: int, counts: CellCounts | None) -> Pass:
    return Pass(
        name=name,  # type: ignore[arg-type]  # of the three names
        upward=name != "turn",
        complemented=False,
        bytes_moved=size,
        seconds=0.1,
        counts=counts,
    )


def _rates(
    rng: Random, true: Variant, chip: Silicon, beset: Troubles, depth: str
) -> tuple[Rate, ...]:
    found = []
    for name in QUICK if depth == "quick" else RATES:
        value, missing = chip.rates[name], None
        if value is None:
            missing = f"its driver offers no {name}"
        elif rng.random() < 0.004:
            value, missing = None, "failed: out of resources"
        alone = name.startswith("link")
        found.append(
            Rate(
                name=name,  # type: ignore[arg-type]  # one of RATES
                unit=UNIT[name],  # type: ignore[arg-type]  # one of the three
                value=None
                if value is None
                else value * rng.gauss(1.0, 0.01)
                if alone
                else measured(rng, value, beset),
                missing=missing,
                checked=4096 if value else 0,
                remarks=beset.remarks if name in ("fp32", *MEMORY) else (),
            )
        )
    return tuple(found)


def _telemetry(
    rng: Random, true: Variant, chip: Silicon, beset: Troubles, rates: tuple[Rate, ...]
) -> Telemetry | None:
    if not beset.sensors:
        return None if rng.random() < 0.5 else Telemetry(missing="no sensors")
    nvidia = true.vendor == "NVIDIA"
    core = (true.boost_mhz or true.base_mhz) * beset.clock
    samples = [
        Sample(
            at_seconds=0.1,
            phase=rng.choice(("before", "link")),
            core_mhz=core,
            temperature_c=45.0,
            utilisation_percent=beset.busy or rng.uniform(0.0, 8.0),
        )
    ]
    samples += [
        Sample(
            at_seconds=1.0 + place,
            phase=rate.name,
            core_mhz=core * rng.uniform(0.99, 1.01),
            memory_mhz=true.rate_mtps / 2,
            temperature_c=beset.temperature_c,
            utilisation_percent=rng.uniform(80.0, 100.0),
            throttle=beset.words if nvidia and rng.random() < 0.8 else (),
        )
        for place, rate in enumerate(rates)
    ]
    return Telemetry(
        source="NVIDIA's management library (NVML)" if nvidia else "hwmon, amdgpu",
        slowdown_c=rng.choice((93.0, 98.0, None)),
        samples=tuple(samples),
    )
