"""Parts that sample records are put together from: blocks, passes, rates, sensors."""

from math import sin

from reports.record import (
    Block,
    CellCounts,
    Envelope,
    Flips,
    Host,
    Pass,
    Phase,
    Program,
    Rate,
    Sample,
    Telemetry,
)

GIB = 2**30
MIB = 2**20
CELL = 16

HOST = Host(
    system="Linux",
    release="6.12.0",
    machine="x86_64",
    python="3.13.5",
    memory_bytes=32 * GIB,
)
PROGRAM = Program(version="0.1.0", table_version="2026.11", table_sha256="5e" * 32)


def blocks(count, size, states=(), **kinds):
    """`count` blocks of one size; `states` names the state of the first ones."""
    return tuple(
        one_block(
            place, size, states[place] if place < len(states) else "proven", kinds
        )
        for place in range(count)
    )


def one_block(place, size, state, kinds):
    cells = size // CELL
    told = {
        "proven": {"intact": cells},
        "spilled": {"intact": cells},
        "mirrored": {"mirrored": cells},
        "hollow": {"hollow": cells},
        "scrambled": {"scrambled": cells},
        "failing": {"intact": cells - 3, "failing": 3},
        "unreached": {},
    }[state]
    wrong = state == "failing"
    return Block(
        offset_bytes=place * size,
        size_bytes=size,
        state=state,
        counts=CellCounts(cells=cells, **told),
        mirror_distance_bytes=kinds.get("distance") if state == "mirrored" else None,
        flips=Flips(
            any_mask=(0, 1 << 14, 0, 0),
            all_mask=(0, 1 << 14, 0, 0),
            first_byte=place * size + 4096 * CELL,
            last_byte=place * size + 4098 * CELL,
        )
        if wrong
        else None,
        write_seconds=kinds.get("write", 1e-3) * (12 if state == "spilled" else 1),
        verify_seconds=kinds.get("verify", 1e-3) * (12 if state == "spilled" else 1),
    )


def passes(size, write, verify, turn, counts):
    return (
        Pass(
            name="write",
            upward=True,
            complemented=False,
            bytes_moved=size,
            seconds=size / write,
        ),
        Pass(
            name="turn",
            upward=True,
            complemented=True,
            bytes_moved=2 * size,
            seconds=2 * size / turn,
            counts=counts,
        ),
        Pass(
            name="verify",
            upward=False,
            complemented=True,
            bytes_moved=size,
            seconds=size / verify,
            counts=counts,
        ),
    )


def rate(name, unit, value, seconds=0.02, jitter=0.004, **more):
    """A rate whose nine samples lie within `jitter` of the value."""
    work = value * seconds
    samples = tuple(seconds * (1 + jitter * sin(7 * turn)) for turn in range(9))
    settings = {"checked": 1_048_576, "wrong": 0} | more
    return Rate(
        name=name,
        unit=unit,
        value=value,
        work_per_launch=work,
        warmup_seconds=(seconds * 1.4, seconds * 1.1),
        sample_seconds=samples,
        **settings,
    )


def telemetry(
    seconds, top_c, low_c=34.0, core=1980.0, power=520.0, limit=700.0, link=(3, 16)
):
    """Sensors that warm up from `low_c` to `top_c` over the phases."""
    phases = ("capacity", "fp32", "fp64", "memory_read", "link_up")
    count = 40
    return Telemetry(
        source="NVML",
        slowdown_c=87.0,
        power_limit_w=limit,
        host_memory_before_bytes=30 * GIB,
        host_memory_least_bytes=29 * GIB,
        samples=tuple(
            Sample(
                at_seconds=seconds * turn / count,
                phase=phases[turn * len(phases) // count],
                core_mhz=core - 15.0 * (turn % 3),
                memory_mhz=2619.0,
                temperature_c=top_c - (top_c - low_c) * 0.93**turn,
                power_w=power * (0.6 + 0.4 * abs(sin(turn / 5))),
                utilisation_percent=99.0,
                link_generation=link[0] if turn else 1,
                link_width=link[1],
            )
            for turn in range(count)
        ),
    )


def phases(seconds, last="done"):
    names = ("identify", "capacity", "rates", "judge")
    each = seconds / len(names)
    return tuple(
        Phase(
            name=name,
            outcome=last if name == names[-1] else "done",
            started_seconds=place * each,
            seconds=each,
        )
        for place, name in enumerate(names)
    )


def envelope(quantity, low, high, unit, basis="from memory"):
    return Envelope(quantity=quantity, low=low, high=high, unit=unit, basis=basis)
