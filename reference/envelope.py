"""What genuine cards of a set of rows show: physics times a published band.

Pure arithmetic on rows. Conventions of the measurement: fp32, fp64, fp16 in FLOP/s and
int32 in op/s with one multiply-add as two; transcendental in results of exp2 a second;
memory_copy counts the bytes read and the bytes written. Over several rows the hull.
"""

from collections.abc import Callable, Iterable
from functools import lru_cache

from reference.rows import Architecture, Variant
from reference.table import Table
from reports.record import Envelope
from reports.units import RATE_UNITS

CAPPED_WATTS = 75
"""Boards up to this power, and laptop parts, may be held far below their clocks."""
CHECK_BITS = 0.82
"""Share of memory speed left with check bits kept in the same memory."""
CHECK_BITS_SIZE = 0.86
"""Share of the size left then: 0.9375, and 0.875 on Fermi."""

_QUANTITIES = (
    "fp32", "fp64", "fp16", "int32", "transcendental", "memory_read", "memory_write",
    "memory_copy", "memory_bytes", "compute_units",
)  # fmt: skip
_UNITS = RATE_UNITS | {"memory_bytes": "B", "compute_units": ""}
EACH = {"fp64": 2, "fp16": 2, "int32": 2, "transcendental": 1}
"""Operations that one result counts as."""
_Edges = tuple[float, float, str]


def envelopes(rows: Iterable[Variant], table: Table) -> tuple[Envelope, ...]:
    """Return one envelope a quantity: the hull over `rows`, empty without rows.

    A quantity that one of the rows gives no figure for is left out: what cannot be
    said of every genuine card of that name is not held against one.
    """
    return _hulls(tuple(rows), table)


@lru_cache(maxsize=2048)
def _hulls(rows: tuple[Variant, ...], table: Table) -> tuple[Envelope, ...]:
    made = (_hull(quantity, rows, table) for quantity in _QUANTITIES)
    return tuple(one for one in made if one is not None)


def _hull(quantity: str, rows: tuple[Variant, ...], table: Table) -> Envelope | None:
    edges = [_edges(quantity, row, table.architecture(row)) for row in rows]
    known = [edge for edge in edges if edge is not None]
    if not known or len(known) < len(edges):
        return None
    bases = sorted({basis for _, _, basis in known})
    basis = bases[0] if len(bases) == 1 else f"{bases[0]} (and {len(bases) - 1} more)"
    sources = {
        source
        for row in rows
        for source in (*row.sources, *table.architecture(row).source)
    }
    return Envelope(
        quantity=quantity,
        low=min(low for low, _, _ in known),
        high=max(high for _, high, _ in known),
        unit=_UNITS[quantity],
        basis=basis,
        sources=tuple(sorted(sources)),
    )


def _edges(quantity: str, row: Variant, kind: Architecture) -> _Edges | None:
    if quantity in row.not_judged:
        return None
    return _FIGURES[quantity](quantity, row, kind)


def _fp32(_: str, row: Variant, kind: Architecture) -> _Edges:
    low, high = kind.fp32
    low *= capped(row, kind)
    return (
        row.fp32 * low,
        row.fp32 * high,
        (
            f"{row.units} units x {kind.lanes} lanes x 2 x "
            f"{row.clock_hz / 1e6:.0f} MHz, of it {low:.2f} to {high:.2f}"
        ),
    )


def _results(quantity: str, row: Variant, kind: Architecture) -> _Edges | None:
    pair = results(quantity, row, kind)
    if pair is None:
        return None
    least, most = pair
    low, high = kind.clock
    low *= capped(row, kind)
    each = EACH[quantity] * row.units * row.clock_hz
    span = f"{least:g}" if least == most else f"{least:g} to {most:g}"
    return (
        each * least * low,
        each * most * high,
        (
            f"{row.units} units x {span} results x {EACH[quantity]} x "
            f"{row.clock_hz / 1e6:.0f} MHz, of it {low:.2f} to {high:.2f}"
        ),
    )


def results(
    quantity: str, row: Variant, kind: Architecture
) -> tuple[float, float] | None:
    """Return [least, most] results a clock and unit, as this model or its chip can.

    None where nothing is known of that quantity.
    """
    own = {"fp64": row.fp64, "fp16": row.fp16}.get(quantity)
    if own is not None:
        return own, own
    return kind.results.get(quantity)  # type: ignore[call-overload,no-any-return]  # any name is asked for


def _traffic(_: str, row: Variant, kind: Architecture) -> _Edges:
    low, high = kind.memory[row.memory_type]
    if row.ecc:
        low *= CHECK_BITS
    return (
        row.bandwidth * low,
        row.bandwidth * high,
        (
            f"{row.bus_bits} bits x {row.rate_mtps} MT/s / 8, of it {low:.2f} to "
            f"{high:.2f} ({row.memory_type})"
        ),
    )


def _size(_: str, row: Variant, kind: Architecture) -> _Edges:
    low, high = shown(row, kind)
    return (
        row.memory_bytes * low,
        row.memory_bytes * high,
        f"drivers show {low:.2f} to {high:.3f} of the size",
    )


def _count(_: str, row: Variant, kind: Architecture) -> _Edges:
    return (
        row.units * min(kind.units_as),
        row.units * max(kind.units_as),
        f"{kind.unit_name}s as drivers count them",
    )


_FIGURES: dict[str, Callable[[str, Variant, Architecture], _Edges | None]] = {
    "fp32": _fp32,
    **dict.fromkeys(EACH, _results),
    **dict.fromkeys(("memory_read", "memory_write", "memory_copy"), _traffic),
    "memory_bytes": _size,
    "compute_units": _count,
}


def shown(row: Variant, kind: Architecture) -> tuple[float, float]:
    """Return which share of its nominal memory a genuine card's driver shows."""
    low, high = kind.memory_shown
    return (min(low, CHECK_BITS_SIZE) if row.ecc else low), high


def capped(row: Variant, kind: Architecture) -> float:
    """Return what small boards and laptop parts may be held to of the low edges."""
    held = row.form == "laptop" or (
        row.power_w is not None and row.power_w <= CAPPED_WATTS
    )
    return kind.capped if held else 1.0


def ratio(
    quantity: str, row: Variant, kind: Architecture
) -> tuple[float, float] | None:
    """Return [least, most] of a rate over fp32 on a genuine card: needs no clock."""
    if {quantity, "fp32"} & set(row.not_judged):
        return None
    pair = results(quantity, row, kind)
    if pair is None:
        return None
    least, most = pair
    lost = kind.fp32[0] / kind.clock[0]
    lanes = kind.lanes * 2
    return (
        EACH[quantity] * least / lanes,
        EACH[quantity] * most / (lanes * min(1.0, lost)),
    )
