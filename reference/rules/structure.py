"""How the chip is built, counted and timed: no firmware and no driver has a say.

A chip that is slow for an innocent reason is slow in all of a staircase alike; only
another program on the card can bend its steps. So that is looked for first, and a
staircase that is not regular counts for nothing.
"""

from collections.abc import Iterator

from reference import profile
from reference.case import Case
from reference.causes import busy, causes, lowest_share
from reference.envelope import capped
from reference.evidence import is_clear, is_regular, may_count
from reference.rows import Architecture, Variant
from reference.rules._say import a, counted, either, find, layer
from reports.record import Bearing, Claim, Finding, Strength, Structure
from reports.units import significant

SURE = 0.99
"""Probability of a chip from which on its count of units bears out the staircase."""
UNSTEADY = 0.25
"""Spread of the timed step, over it, from which on it tells nothing."""
LEEWAY = 1.35
"""How far outside its range lanes times cycles must lie to count."""
ABOVE = 1.25
"""How far above it, where only a factor of two is in question: a link of RDNA takes 5
to 6 clocks (AMD, RDNA whitepaper; from memory)."""
_HALVES = (0.5, 1.0, 2.0)


def counted_units(case: Case) -> Iterator[Finding]:
    """Compare the count that the staircase shows with the rows' units."""
    built = case.record.structure
    if built is None or not built.units or not case.rows or case.is_part:
        return
    low, high = _bounds(built)
    kinds = {row: case.table.architecture(row) for row in case.rows}
    name = kinds[case.rows[0]].unit_name
    wanted = either([str(units) for units in sorted({row.units for row in case.rows})])
    shown = counted(built.units, name)
    if low != high:
        shown = f"{low} to {high} {name}s"
    fits = any(
        low <= row.units * by <= high
        for row in case.rows
        for by in _factors(case, built, row)
    )
    spare = any(
        kinds[row].unlocks and row.units < low <= case.table.chip(row).units
        for row in case.rows
    )
    seen = busy(case)
    strength: Strength = "strong"
    bearing: Bearing = "contradicts"
    said = f"The chip itself runs {shown} at a time"
    if fits:
        strength, bearing = "supporting", "agrees"
        said += f", as {a(case.model)} does."
    else:
        said += f"; {a(case.model)} has {wanted}."
        if not is_regular(built):
            strength = "strong" if may_count(built) else "supporting"
            bearing = "open"
            said += " But the steps were not regular, so this count decides nothing."
        elif seen:
            bearing = "open"
            said += f" But {seen[0].said}, which can bend the count."
        elif spare:
            strength, bearing = "supporting", "explains"
            said += " This chip's spare ones can be switched on."
        elif _decides(case, built):
            strength = "decisive"
    yield find(
        "counted-units", strength, bearing, claim=f"{wanted} {name}s",
        measured=shown, envelope=wanted, sentence=said, sources=case.sources,
    )  # fmt: skip


def told_units(case: Case) -> Iterator[Finding]:
    """Compare the count of the staircase with the count that the driver tells."""
    built = case.record.structure
    if built is None or not is_clear(built) or not case.rows:
        return
    if case.is_part or busy(case):
        return
    shares = {
        by / share
        for row in case.rows
        for by in case.table.architecture(row).units_as
        for share in _factors(case, built, row)
    }
    told: dict[int, list[Claim]] = {}
    for claim in case.reported:
        if claim.compute_units and not case.is_standin(claim):
            told.setdefault(claim.compute_units, []).append(claim)
    units = built.units or 0
    for count, claims in sorted(told.items()):
        if any(units * one == count for one in shares):
            continue
        voices = " and ".join(sorted({layer(claim) for claim in claims}))
        yield find(
            "told-units",
            "strong",
            "contradicts",
            claim=str(count),
            measured=str(units),
            envelope=str(count),
            sentence=f"{voices} counts {count} units, but only {units} run at a time."
            if units < count
            else f"{voices} counts {count} units, but {units} run at a time.",
        )


def lane_cycles(case: Case) -> Iterator[Finding]:
    """Compare lanes times cycles of a link: it tells generations apart at any clock."""
    built = case.record.structure
    if built is None or not built.lane_cycles or not case.rows or case.is_part:
        return
    spans = [_span(row, case.table.architecture(row)) for row in case.rows]
    known = [one for one in spans if one is not None]
    if len(known) < len(spans):
        return
    low, high = min(one for one, _ in known), max(one for _, one in known)
    value = built.lane_cycles
    rate = case.rates.get("fp32")
    seen = causes(case, rate) if rate is not None else busy(case)
    share = lowest_share(seen)
    ends = [significant(low), significant(high)]
    genuine = " to ".join(dict.fromkeys(ends))
    strength: Strength = "strong"
    bearing: Bearing = "contradicts"
    said = (
        f"A unit's lanes times the clocks of one step come to {significant(value)}; on "
        f"{a(case.model)} it is {genuine}, at any clock."
    )
    if low / LEEWAY <= value <= high * LEEWAY:
        strength, bearing = "supporting", "agrees"
        said = (
            f"A unit's lanes times the clocks of one step come to "
            f"{significant(value)}, as on {a(case.model)}."
        )
    elif not is_regular(built):
        strength, bearing = "supporting", "open"
        said += " But the units were not counted for sure."
    elif not _is_steady(built):
        strength, bearing = "supporting", "open"
        said += " But the clock was not steady while it was timed."
    elif value > high and any(one.share is None for one in seen):
        bearing = "open"  # who shares the card stretches the steps that are timed
        said += f" A cause was seen: {'; '.join(one.said for one in seen)}."
    elif value < low and seen:
        enough = share is not None and value >= low / LEEWAY * share
        strength = "supporting" if enough else "strong"
        bearing = "explains" if enough else "open"
        said += f" A cause was seen: {'; '.join(one.said for one in seen)}."
    yield find(
        "lane-cycles", strength, bearing, claim=a(case.model),
        measured=significant(value), envelope=genuine, sentence=said,
        sources=case.sources,
    )  # fmt: skip


def warp_width(case: Case) -> Iterator[Finding]:
    """Compare how many work-items step together with the architecture."""
    built = case.record.structure
    if built is None or not built.warp_width or not case.rows:
        return
    kinds = {row.architecture for row in case.rows}
    widths = {
        width
        for kind in kinds
        for width in profile.warp_widths(case.table.architectures[kind])
    }
    wanted = either([str(width) for width in sorted(widths)])
    fits = built.warp_width in widths
    seen = () if fits else busy(case)
    said = f"{built.warp_width} work-items step together"
    yield find(
        "warp-width",
        "supporting" if fits else "strong",
        "agrees" if fits else "open" if seen else "contradicts",
        claim=wanted,
        measured=str(built.warp_width),
        envelope=wanted,
        sentence=f"{said}, as on {a(case.model)}."
        if fits
        else f"{said}; on {a(case.model)} it is {wanted}."
        + (f" But {seen[0].said}." if seen else ""),
        sources=case.sources,
    )


def resident_groups(case: Case) -> Iterator[Finding]:
    """Compare how many work-groups a unit holds at once with its local memory."""
    built = case.record.structure
    if built is None or not built.resident_groups or not built.resident_bytes:
        return
    if not case.rows or case.is_part:
        return
    shared = {
        profile.shared_bytes(case.table.chip(row), case.table.architecture(row))
        for row in case.rows
    }
    known = [one for one in shared if one is not None]
    if not known or len(known) < len(shared):
        return
    fitting = sorted({profile.groups(one, built.resident_bytes) for one in known})
    wanted = either([str(one) for one in fitting])
    fits = built.resident_groups in fitting
    yield find(
        "resident-groups",
        "supporting",
        "agrees" if fits else "contradicts",
        claim=wanted,
        measured=str(built.resident_groups),
        envelope=wanted,
        sentence=f"A unit holds {counted(built.resident_groups, 'work-group')} of "
        f"{built.resident_bytes // 1024} KiB at once"
        + (
            f", as on {a(case.model)}."
            if fits
            else f"; on {a(case.model)} it holds {wanted}."
        ),
        sources=case.sources,
    )


def _bounds(built: Structure) -> tuple[int, int]:
    units = built.units or 0
    ends = (built.units_low or units, built.units_high or units)
    return min(ends), max(ends)


def staircase_factors(vendor: str) -> tuple[float, ...]:
    """Return by which factors units may be seen: NVIDIA's always one by one."""
    return (1.0,) if vendor == "NVIDIA" else _HALVES


def _factors(case: Case, built: Structure, row: Variant) -> tuple[float, ...]:
    """Return by which factors this staircase may have miscounted such a card.

    Two units seen as one have twice the lanes of one. So lanes times cycles leave only
    the factors that they fit; all, where they were not measured or the clock was bent.
    """
    every = staircase_factors(row.vendor)
    kind, value = case.table.architecture(row), built.lane_cycles
    if len(every) == 1 or not value or kind.fma_cycles is None:
        return every
    if busy(case) or not _is_steady(built):
        return every
    most = kind.lanes * kind.fma_cycles
    least = most * profile.effort(kind) * capped(row, kind)
    return tuple(
        by for by in every if least / by / LEEWAY <= value <= most / by * ABOVE
    )


def _is_steady(built: Structure) -> bool:
    """Whether a link took the same time again and again."""
    return (built.link_ns_spread or 0.0) <= UNSTEADY * (built.link_ns or 0.0)


def _decides(case: Case, built: Structure) -> bool:
    """Whether a clear count that fits no variant proves the name false.

    The staircase was tried on few chips so far. So half and double a genuine count,
    as chips give that pair their units or hold two groups on one, prove nothing; and
    all else that was measured must bear the count out.
    """
    units = built.units or 0
    paired = any(units == row.units * by for row in case.rows for by in _HALVES)
    return (
        is_clear(built)
        and not paired
        and {row.vendor for row in case.rows} == {"NVIDIA"}
        and not (case.loose or case.on_rare_chip or case.from_memory("units"))
        and _borne_out(case, units)
    )


def _borne_out(case: Case, units: int) -> bool:
    """Whether everything measured together is sure of a card with so many units."""
    found = case.identified
    if found is None or not found.chips or found.chips[0].probability < SURE:
        return False
    names = set(found.chips[0].variants)
    rows = [row for row in case.table.variants if row.id in names]
    return any(row.units == units for row in rows)


def _span(row: Variant, kind: Architecture) -> tuple[float, float] | None:
    """Return [least, most] of lanes times cycles: the compiler may lose lanes."""
    if kind.fma_cycles is None:
        return None
    whole = kind.lanes * kind.fma_cycles
    most = whole / min(profile.shares(row, kind))
    least = whole / max(profile.shares(row, kind))
    return least * profile.effort(kind) * capped(row, kind), most
