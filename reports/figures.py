"""The raw figures of a record as plain tables, for whoever wants to check.

Everything is text already cleaned; numbers keep more figures than the summary shows.
"""

from reports import layered, seen, words
from reports.figures_built import soaked, structure
from reports.record import Capacity, Claim, Genuine, Record, Telemetry
from reports.summary import clean
from reports.tables import (
    COUNTS,
    NONE,
    counts,
    joined,
    lasted,
    milliseconds,
    pairs,
    shown,
)
from reports.tables import Table as Table  # noqa: PLC0414 - whoever asks for tables
from reports.units import duration, gib, quantity


def tables_of(record: Record) -> tuple[Table, ...]:
    """Return every table that has a row."""
    capacity, telemetry = record.capacity, record.telemetry
    tables = [
        _claims(record.claims),
        _layers(record),
        _photos(record),
        _firmware(record),
        _rates(record),
        *(_capacity(capacity) if capacity else ()),
        *(structure(record.structure) if record.structure else ()),
        *(soaked(record.soak) if record.soak else ()),
        _envelopes(record.genuine) if record.genuine else None,
        _phases(record),
        _incidents(record),
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


def _incidents(record: Record) -> Table:
    rows = tuple(
        (
            one.kind,
            clean(one.phase),
            NONE if one.at_bytes is None else f"{one.at_bytes:,}",
            NONE if one.block_bytes is None else f"{one.block_bytes:,}",
            NONE if one.proven_bytes is None else f"{one.proven_bytes:,}",
            clean(one.detail) or NONE,
        )
        for one in record.incidents
    )
    heads = (
        "How",
        "Phase",
        "At, bytes",
        "Block, bytes",
        "Proven until then, bytes",
        "Detail",
    )
    return Table(title=words.CUT_OFF, heads=heads, rows=rows)


def _claims(claims: tuple[Claim, ...]) -> Table:
    rows = []
    for name, title in _CLAIMS.items():
        cells = tuple(shown(getattr(claim, name)) for claim in claims)
        if any(cell != NONE for cell in cells):
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


def _photos(record: Record) -> Table:
    heads = ("Photo", "Bytes", "SHA-256")
    return Table(title="Photos", heads=heads, rows=seen.photos(record.inspection))


def _firmware(record: Record) -> Table:
    report = record.firmware_report
    rows = tuple(
        (clean(one.name), f"{one.size_bytes:,}", one.sha256)
        for one in (report.comparison.reads if report else ())
    )
    heads = ("Read", "Bytes", "SHA-256")
    return Table(title="Reads of its firmware", heads=heads, rows=rows)


def _rates(record: Record) -> Table:
    rows = tuple(
        (
            words.RATE[rate.name],
            f"{rate.value:.6g} {rate.unit}" if rate.value is not None else NONE,
            milliseconds(rate.sample_seconds),
            milliseconds(rate.warmup_seconds),
            f"{rate.checked:,}",
            f"{rate.wrong:,}",
            joined(rate.missing or "", *rate.remarks),
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
    whole = pairs(
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
            *COUNTS,
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
                else NONE,
                *counts(step.counts),
            )
            for step in capacity.passes
        ),
    )
    blocks = Table(
        title="Blocks of memory",
        heads=("At", "Size", "State", *COUNTS, "Mirror", "Flips", "Write", "Verify"),
        rows=tuple(
            (
                f"{block.offset_bytes:,}",
                gib(block.size_bytes),
                block.state,
                *counts(block.counts),
                NONE
                if block.mirror_distance_bytes is None
                else f"{block.mirror_distance_bytes:+,}",
                NONE
                if block.flips is None
                else " ".join(f"{word:08x}" for word in block.flips.any_mask),
                lasted(block.write_seconds),
                lasted(block.verify_seconds),
            )
            for block in capacity.blocks
        ),
    )
    return whole, passes, blocks


def _envelopes(genuine: Genuine) -> Table:
    rows = tuple(
        (
            words.RATE.get(envelope.quantity, clean(envelope.quantity)),
            f"{envelope.low:.4g}",
            f"{envelope.high:.4g}",
            clean(envelope.unit) or NONE,
            clean(envelope.basis),
            joined(*envelope.sources),
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
            clean(phase.detail) or NONE,
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
            shown(sample.temperature_c),
            shown(sample.core_mhz),
            shown(sample.memory_mhz),
            shown(sample.power_w),
            shown(sample.fan_percent),
            shown(sample.utilisation_percent),
            shown(sample.link_generation),
            shown(sample.link_width),
            joined(*sample.throttle),
        )
        for sample in telemetry.samples
    )
    heads = (
        *("At, s", "Phase", "°C", "Core MHz", "Memory MHz", "W", "Fan %", "Busy %"),
        *("Link, generation", "Link, lanes", "Slowed by"),
    )
    return (
        pairs(telemetry, "Sensors", skip={"samples"}),
        Table(title="Sensor readings", heads=heads, rows=rows),
    )


def _program(record: Record) -> Table:
    parts = (("Program", record.program), ("PC", record.host), ("Card", record.card))
    rows = [
        (f"{title}: {term}", text)
        for title, part in parts
        for term, text in pairs(part, title).rows
    ]
    return Table(title="Card, PC and program", heads=("", "Value"), rows=tuple(rows))
