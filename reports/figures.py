"""The raw figures of a record as plain tables, for whoever wants to check.

Everything is text already cleaned; numbers keep more figures than the summary shows.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from reports import layered, words
from reports.base import Base
from reports.lasting import Soak
from reports.record import Capacity, Claim, Genuine, Record, Telemetry
from reports.summary import clean
from reports.units import duration, gib, quantity

_NONE = "—"


@dataclass(frozen=True, kw_only=True, slots=True)
class Table:
    """One table: its title, its heads, its rows; `count` says what it holds."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def count(self) -> str:
        return f"{len(self.rows)} {'row' if len(self.rows) == 1 else 'rows'}"


def tables_of(record: Record) -> tuple[Table, ...]:
    """Return every table that has a row."""
    capacity, telemetry = record.capacity, record.telemetry
    tables = [
        _claims(record.claims),
        _layers(record),
        _rates(record),
        *(_capacity(capacity) if capacity else ()),
        *(_soak(record.soak) if record.soak else ()),
        _envelopes(record.genuine) if record.genuine else None,
        _phases(record),
        *(_sensors(telemetry) if telemetry else ()),
        _program(record),
    ]
    return tuple(table for table in tables if table is not None and table.rows)


_CLAIMS = {
    "model": "Model",
    "vendor": "Vendor",
    "memory_bytes": "Memory, bytes",
    "free_bytes": "Free memory, bytes",
    "pci_id": "PCI id",
    "chip_id": "Chip's own number",
    "subsystem": "Subsystem",
    "revision": "Revision",
    "compute_units": "Compute units",
    "cores": "Cores",
    "compute_capability": "Compute capability",
    "gfx_target": "Instruction set",
    "clock_mhz": "Clock, MHz",
    "memory_clock_mhz": "Memory clock, MHz",
    "bus_width_bits": "Bus width, bits",
    "link_generation": "Link generation",
    "link_width": "Link width",
    "driver": "Driver",
    "firmware": "Firmware",
    "source": "Read from",
}


def _claims(claims: tuple[Claim, ...]) -> Table:
    rows = []
    for name, title in _CLAIMS.items():
        cells = tuple(_shown(getattr(claim, name)) for claim in claims)
        if any(cell != _NONE for cell in cells):
            rows.append((title, *cells))
    heads = ("", *(words.LAYER[claim.layer] for claim in claims))
    return Table(title="What each layer says", heads=heads, rows=tuple(rows))


def _layers(record: Record) -> Table:
    rows = tuple(
        tuple(clean(part) for part in line)
        for line in layered.lines(record.card.layers)
    )
    heads = ("", "Told", "Read from")
    return Table(title="What was read beside it", heads=heads, rows=rows)


def _rates(record: Record) -> Table:
    rows = tuple(
        (
            words.RATE[rate.name],
            f"{rate.value:.6g} {rate.unit}" if rate.value is not None else _NONE,
            _list(rate.sample_seconds),
            _list(rate.warmup_seconds),
            f"{rate.checked:,}",
            f"{rate.wrong:,}",
            _joined(rate.missing or "", *rate.remarks),
        )
        for rate in record.rates
    )
    heads = (
        "Work",
        "Median",
        "Samples, ms",
        "Warm-up, ms",
        "Checked",
        "Wrong",
        "Remarks",
    )
    return Table(title="Rates", heads=heads, rows=rows)


def _capacity(capacity: Capacity) -> tuple[Table, ...]:
    whole = _pairs(
        capacity,
        "Memory",
        skip={"passes", "blocks"},
    )
    passes = Table(
        title="Passes over the memory",
        heads=(
            "Pass",
            "Direction",
            "Leaves",
            "Bytes moved",
            "Time",
            "Rate",
            *_COUNTS,
        ),
        rows=tuple(
            (
                step.name,
                "up" if step.upward else "down",
                "complement" if step.complemented else "tag",
                f"{step.bytes_moved:,}",
                duration(step.seconds),
                quantity(step.bytes_moved / step.seconds, "B/s")
                if step.seconds > 0
                else _NONE,
                *_counts(step.counts),
            )
            for step in capacity.passes
        ),
    )
    blocks = Table(
        title="Blocks of memory",
        heads=("At", "Size", "State", *_COUNTS, "Mirror", "Flips", "Write", "Verify"),
        rows=tuple(
            (
                f"{block.offset_bytes:,}",
                gib(block.size_bytes),
                block.state,
                *_counts(block.counts),
                _NONE
                if block.mirror_distance_bytes is None
                else f"{block.mirror_distance_bytes:+,}",
                _NONE
                if block.flips is None
                else " ".join(f"{word:08x}" for word in block.flips.any_mask),
                _time(block.write_seconds),
                _time(block.verify_seconds),
            )
            for block in capacity.blocks
        ),
    )
    return whole, passes, blocks


_COUNTS = ("Cells", "Intact", "Mirrored", "Hollow", "Failing", "Scrambled")


def _counts(counts: object) -> tuple[str, ...]:
    return tuple(
        _shown(getattr(counts, name.lower(), None)) if counts is not None else _NONE
        for name in _COUNTS
    )


def _soak(soak: Soak) -> tuple[Table, ...]:
    skip = {"tests", "spots", "series", "cells"}
    tests = Table(
        title="Soak: results",
        heads=("Work", "Launches", "Checked", "Wrong"),
        rows=tuple(
            (
                words.RATE.get(test.name) or clean(test.name) or _NONE,
                f"{test.launches:,}",
                f"{test.checked:,}",
                f"{test.wrong:,}",
            )
            for test in soak.tests
        ),
    )
    cells = Table(
        title="Soak: cells read",
        heads=_COUNTS,
        rows=(_counts(soak.cells),) if soak.cells else (),
    )
    series = Table(
        title="Soak: over time",
        heads=("At, s", "FLOP/s", "Core MHz", "°C", "W", "Wrong"),
        rows=tuple(
            (
                f"{point.at_seconds:.3f}",
                _shown(point.rate),
                _shown(point.core_mhz),
                _shown(point.temperature_c),
                _shown(point.power_w),
                f"{point.wrong:,}",
            )
            for point in soak.series
        ),
    )
    return _pairs(soak, "Soak", skip=skip), tests, cells, _spots(soak), series


def _spots(soak: Soak) -> Table:
    return Table(
        title="Soak: where it was wrong",
        heads=(
            *("Work", "First, s", "Last, s", "Times", "Wrong", "Scrambled", "Group"),
            *("From byte", "To byte", "Flips", "°C", "MHz"),
        ),
        rows=tuple(
            (
                words.RATE.get(spot.test) or clean(spot.test) or _NONE,
                f"{spot.at_seconds:.3f}",
                f"{spot.last_seconds:.3f}",
                f"{spot.times:,}",
                f"{spot.wrong:,}",
                f"{spot.scrambled:,}",
                _shown(spot.group),
                _shown(spot.first_byte),
                _shown(spot.last_byte),
                _NONE
                if spot.flips is None
                else " ".join(f"{word:08x}" for word in spot.flips.any_mask),
                _shown(spot.temperature_c),
                _shown(spot.core_mhz),
            )
            for spot in soak.spots
        ),
    )


def _envelopes(genuine: Genuine) -> Table:
    rows = tuple(
        (
            words.RATE.get(envelope.quantity, clean(envelope.quantity)),
            f"{envelope.low:.4g}",
            f"{envelope.high:.4g}",
            clean(envelope.unit) or _NONE,
            clean(envelope.basis),
            _joined(*envelope.sources),
        )
        for envelope in genuine.envelopes
    )
    return Table(
        title=clean(f"What a genuine {genuine.model} shows"),
        heads=("Quantity", "From", "To", "Unit", "Because", "Source"),
        rows=rows,
    )


def _phases(record: Record) -> Table:
    rows = tuple(
        (
            clean(phase.name),
            words.PHASE[phase.outcome],
            f"{phase.started_seconds:.3f} s",
            duration(phase.seconds),
            clean(phase.detail) or _NONE,
        )
        for phase in record.phases
    )
    heads = ("Phase", "Ended", "Began at", "Took", "Remark")
    return Table(title="Phases of the run", heads=heads, rows=rows)


def _sensors(telemetry: Telemetry) -> tuple[Table, ...]:
    rows = tuple(
        (
            f"{sample.at_seconds:.3f}",
            clean(sample.phase),
            _shown(sample.temperature_c),
            _shown(sample.core_mhz),
            _shown(sample.memory_mhz),
            _shown(sample.power_w),
            _shown(sample.fan_percent),
            _shown(sample.utilisation_percent),
            _joined(*sample.throttle),
        )
        for sample in telemetry.samples
    )
    heads = ("At, s", "Phase", "°C", "Core MHz", "Memory MHz", "W", "Fan %", "Busy %")
    return (
        _pairs(telemetry, "Sensors", skip={"samples"}),
        Table(title="Sensor readings", heads=(*heads, "Slowed by"), rows=rows),
    )


def _program(record: Record) -> Table:
    parts = (("Program", record.program), ("PC", record.host), ("Card", record.card))
    rows = [
        (f"{title}: {term}", text)
        for title, part in parts
        for term, text in _pairs(part, title).rows
    ]
    return Table(title="Card, PC and program", heads=("", "Value"), rows=tuple(rows))


def _pairs(part: Base, title: str, skip: Iterable[str] = ()) -> Table:
    """Return the set fields of one part of a record, name and value."""
    left_out = set(skip)
    rows = tuple(
        (name.replace("_", " "), _shown(getattr(part, name)))
        for name in part.__struct_fields__
        if name not in left_out and _shown(getattr(part, name)) != _NONE
    )
    return Table(title=title, heads=("", "Value"), rows=rows)


def _shown(value: object) -> str:
    match value:
        case None:
            return _NONE
        case bool():
            return "yes" if value else "no"
        case int():
            return f"{value:,}"
        case float():
            return f"{value:.6g}"
        case tuple():
            shown = [_shown(part) for part in value]
            return ", ".join(text for text in shown if text != _NONE) or _NONE
        case _:
            return clean(str(value)) or _NONE


def _joined(*texts: str) -> str:
    """Return the texts that say anything, in one."""
    return "; ".join(filter(None, map(clean, texts))) or _NONE


def _time(seconds: float | None) -> str:
    return _NONE if seconds is None else duration(seconds)


def _list(seconds: tuple[float, ...]) -> str:
    return ", ".join(f"{1e3 * each:.5g}" for each in seconds) or _NONE
