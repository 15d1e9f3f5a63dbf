"""Memory: what was claimed against what is reported, and what answered.

The capacity proof is the strongest evidence there is: every cell was told its own
address, and a genuine card's cells all remember theirs.
"""

from collections.abc import Iterator

from reference.case import Case
from reference.envelope import shown
from reference.rules._say import a, either, find
from reports.record import Bearing, CellCounts, Finding, Pass, Strength
from reports.units import gib, percent, span

LEAST_SHARE = 0.74
MOST_SHARE = 1.10
"""Reported over listed size: beyond these no allowance reaches."""
SLACK = 1.005
"""How far above nominal a reported size still is the nominal size."""
GAP = 0.10
"""How far below a driver's allowance a size must lie to be none of it."""
NO_WINDOW = 0.30
"""Intel without a resizable PCI window shows some 243 MiB, whatever is there."""
FOREIGN = 1e-2
"""Share of mirrored or hollow cells from which on memory is missing, not failing."""
FEW = 1e-4
"""Share of wrong cells up to which they are counted rather than given as a share."""
STRAY = 1e-9
"""Share of wrong cells that a healthy card may show once in one pass; one single cell
always may (Tiwari et al., HPCA 2015: one in 22 months and GB)."""
PROVEN = 0.80
WHOLE = 0.99
"""Share of what is held that a finished pass has read."""
HELD = 0.95
"""Share of what the driver called free that has to be held in blocks."""
SPILLED = 0.05
"""Share of the reported size from which on spilled memory leaves too much open."""
ANSWERS = 0.90
"""Share of the reported size from which on memory counts as really there."""
BETWEEN = 0.02
"""Share of cells in blocks neither right nor wrong as a whole that an edge may have."""


def listing_memory(case: Case) -> Iterator[Finding]:
    """Compare the size that the card reports with the size sold."""
    sold, told = case.listed_bytes, case.reported_bytes
    if not sold or not told:
        return
    share = told / sold
    low = min(
        (shown(row, case.table.architecture(row))[0] for row in case.all_rows),
        default=0.95,
    )
    strength: Strength = "strong"
    bearing: Bearing = "contradicts"
    words = gib(sold)
    if case.listed_whole and sold < case.listed_whole:
        words = f"{gib(case.listed_whole)}, {gib(sold)} for each processor"
    said = f"Sold with {words}, but the card reports {gib(told)}."
    if low <= share <= SLACK:
        strength, bearing = "strong", "agrees"
        said = f"Sold with {words}; the card reports {gib(told)}."
    elif case.is_part:
        bearing = "open"
        said += " What is seen is only a part of a card."
    elif share < low and (cause := _shows_less(case, share)):
        bearing = "open"
        said += f" {cause}"
    elif not LEAST_SHARE <= share <= MOST_SHARE and case.size_counts:
        strength = "decisive"
    yield find(
        "listing-memory", strength, bearing, claim=gib(sold), measured=gib(told),
        envelope=span(low * sold, sold, "B"), sentence=said,
        sources=case.sources,
    )  # fmt: skip


def _shows_less(case: Case, share: float) -> str | None:
    """Why a genuine card's driver may show far less than is there."""
    if case.sees_part:
        return "A 32-bit system cannot see all of a large card."
    vendors = {row.vendor for row in case.all_rows}
    if "Intel" in vendors and share < NO_WINDOW:
        return "Without a resizable PCI window this driver shows only a little."
    return None


def memory_size(case: Case) -> Iterator[Finding]:
    """Compare the size that the card reports with the sizes ever made."""
    told = case.reported_bytes
    if not told or not case.all_rows or case.is_part:
        return
    sizes = sorted({row.memory_bytes for row in case.all_rows})
    made = either([gib(size) for size in sizes])
    strength: Strength = "strong"
    bearing: Bearing = "contradicts"
    said = (
        f"The card reports {gib(told)}; {a(case.model)} was made with {made}: "
        "a size never made."
    )
    low = min(shown(row, case.table.architecture(row))[0] for row in case.all_rows)
    above = [size for size in sizes if size * SLACK >= told]
    below = [size for size in sizes if size < told]
    near = bool(below) and told <= below[-1] * MOST_SHARE
    if any(case.fits(told, row) for row in case.all_rows) or any(
        size <= told <= size * SLACK for size in sizes
    ):
        bearing = "agrees"
        said = f"The card reports {gib(told)}, a size that {a(case.model)} was made in."
    elif not below and told < above[0] * low:
        cause = _shows_less(case, told / above[0])
        bearing = "open" if cause else "contradicts"
        said = f"The card reports only {gib(told)}; {a(case.model)} has {made}."
        said += f" {cause}" if cause else ""
        if not cause and told < LEAST_SHARE * above[0] and _prints_all(case):
            strength = "decisive"
    elif above and case.sees_part and (cause := _shows_less(case, told / above[0])):
        bearing = "open"
        said = f"The card reports {gib(told)}. {cause}"
    elif near or (above and told >= above[0] * (low - GAP)):
        said = f"The card reports {gib(told)}, which is odd: {made} were made."
    elif _answers(case, told):
        said += " All of it answers, so it may have been rebuilt by hand."
    elif not case.loose and case.size_counts:
        strength = "decisive"
    short = (
        bearing == "contradicts"
        and has_readings(case)
        and case.proven_bytes < ANSWERS * told
    )
    yield find(
        "memory-size", strength, bearing, claim=gib(told),
        measured=f"{gib(case.proven_bytes)} answered" if short else gib(told),
        envelope=made, sentence=said, sources=case.sources,
    )  # fmt: skip


def _prints_all(case: Case) -> bool:
    """Whether every row is one whose driver is known to print nearly all memory.

    NVIDIA's consumer cards print 0.95 to 1.00 of it in every published listing.
    """
    return (
        case.size_counts
        and not (case.loose or case.on_rare_chip or case.from_memory("memory"))
        and all(
            row.vendor == "NVIDIA" and row.form in ("desktop", "laptop")
            for row in case.all_rows
        )
    )


def _answers(case: Case, size: int) -> bool:
    proof = case.capacity
    return (
        proof is not None
        and case.proven_bytes >= ANSWERS * size
        and not any(_wrong(counts) for counts in _seen(case))
    )


def _readings(case: Case) -> tuple[CellCounts, ...]:
    """Return what the reading passes found, without spilled blocks' cells."""
    passes: tuple[Pass, ...] = case.capacity.passes if case.capacity else ()
    away = _sum(case, spilled=True)
    found = (
        _without(one.counts, away)
        for one in passes
        if one.name in ("verify", "turn") and one.counts and one.counts.cells
    )
    return tuple(counts for counts in found if counts.cells)


def has_readings(case: Case) -> bool:
    """Whether any pass read the card's own memory back."""
    return bool(_readings(case))


def _sum(case: Case, *, spilled: bool) -> CellCounts:
    """Return the sums over the blocks, either of the spilled or of the card's own."""
    proof = case.capacity
    blocks = [
        one.counts
        for one in (proof.blocks if proof else ())
        if (one.state == "spilled") == spilled
    ]
    return CellCounts(
        cells=sum(one.cells for one in blocks),
        intact=sum(one.intact for one in blocks),
        mirrored=sum(one.mirrored for one in blocks),
        hollow=sum(one.hollow for one in blocks),
        failing=sum(one.failing for one in blocks),
        scrambled=sum(one.scrambled for one in blocks),
    )


def _without(counts: CellCounts, away: CellCounts) -> CellCounts:
    """Take the spilled blocks' cells out of a pass: they say nothing of the card."""
    if not away.cells:
        return counts
    return CellCounts(
        cells=max(counts.cells - away.cells, 0),
        intact=max(counts.intact - away.intact, 0),
        mirrored=max(counts.mirrored - away.mirrored, 0),
        hollow=max(counts.hollow - away.hollow, 0),
        failing=max(counts.failing - away.failing, 0),
        scrambled=max(counts.scrambled - away.scrambled, 0),
    )


def _finished(case: Case) -> bool:
    """Whether enough was read to prove memory missing.

    Two whole passes, or one of a run that came to its end.
    """
    proof = case.capacity
    if proof is None:
        return False
    own = (proof.covered_bytes - proof.spilled_bytes) // max(proof.cell_bytes, 1)
    whole = [one for one in _readings(case) if one.cells >= WHOLE * own]
    broken = case.record.interrupted or proof.ended_by == "error" or case.broken
    return len(whole) > 1 or bool(whole and not broken)


def _seen(case: Case) -> tuple[CellCounts, ...]:
    """Every pass, and the blocks' own sums where they know of more wrong cells."""
    readings = _readings(case)
    worst = _sum(case, spilled=False)
    most = max(map(_wrong, readings), default=0)
    return (*readings, worst) if worst.cells and _wrong(worst) > most else readings


def _absent(counts: CellCounts) -> float:
    """Share of cells behind which there is no memory of their own."""
    return (counts.mirrored + counts.hollow) / counts.cells


def is_absent(case: Case) -> bool:
    """Whether the proof shows that memory is not there, beyond doubt."""
    return any(
        (one.bearing, one.strength) == ("contradicts", "decisive")
        for one in memory_bits(case)
    )


def _ends_sharply(case: Case) -> bool:
    """Whether whole blocks hold nothing of what was written, and all others all of it.

    Chips share every block between them: a broken one spoils a part of each. Only
    where addresses lead nowhere are blocks gone as a whole.
    """
    blocks = [
        one.counts
        for one in (case.capacity.blocks if case.capacity else ())
        if one.state != "spilled" and one.counts.cells
    ]
    total = sum(one.cells for one in blocks)
    right = sum(one.cells for one in blocks if one.intact == one.cells)
    gone = sum(
        one.cells
        for one in blocks
        if not one.intact and one.failing <= BETWEEN * one.cells
    )
    return (
        right > 0
        and gone >= FOREIGN * total
        and total - right - gone <= BETWEEN * total
        and all(
            abs(_wrong(counts) / counts.cells - gone / total) <= BETWEEN
            for counts in _readings(case)
        )
    )


def _wrong(counts: CellCounts) -> int:
    return counts.mirrored + counts.hollow + counts.failing + counts.scrambled


def memory_bits(case: Case) -> Iterator[Finding]:
    """Judge what became of the cells that were told their own addresses."""
    proof, readings = case.capacity, _seen(case)
    if proof is None or not readings:
        return
    claimed, proven = gib(proof.claimed_bytes), gib(case.proven_bytes)
    own = max(proof.covered_bytes - proof.spilled_bytes, 0)
    wrong = [_wrong(counts) for counts in readings]
    worst = max(_wrong(counts) / counts.cells for counts in readings)
    strength: Strength = "decisive"
    bearing: Bearing = "fault"
    measured = f"{proven} of working memory"
    if not any(wrong):
        bearing = "agrees"
        said = f"Every cell of {gib(own)} kept what was written to it."
    elif any(counts.intact == 0 for counts in readings):
        strength, bearing = "strong", "open"
        said = (
            "Not one cell came back right: more likely the driver did not run the "
            "test than that no memory works."
        )
    elif all(_absent(counts) >= FOREIGN for counts in readings):
        bearing = "contradicts"
        mirrored = all(counts.mirrored / counts.cells >= FOREIGN for counts in readings)
        hollow = all(counts.hollow / counts.cells >= FOREIGN for counts in readings)
        several = len(_readings(case)) > 1 or mirrored
        strength = "decisive" if several and _finished(case) else "strong"
        repeats = "repeats them: what is written to one place appears in another"
        rest = "behind the rest there is no memory"
        if mirrored and hollow:
            rest = f"some of the rest {repeats}, and behind some there is no memory"
        elif mirrored:
            rest = f"the rest {repeats}"
        said = f"Of {claimed} reported, only {proven} answer; {rest}."
    elif _ends_sharply(case):
        bearing = "contradicts"
        several = len(_readings(case)) > 1
        strength = "decisive" if several and _finished(case) else "strong"
        said = (
            f"Of {claimed} reported, only {proven} answer; whole blocks of the rest "
            "give back nothing that was ever written to them."
        )
    elif (
        (worst <= STRAY or sum(wrong) == 1)
        and sum(map(bool, wrong)) == 1
        and len(readings) > 1
    ):
        strength, bearing = "strong", "open"
        many = "1 cell was" if sum(wrong) == 1 else f"{sum(wrong)} cells were"
        said = (
            f"{many} wrong in one pass and right in the other: it may happen once in "
            "years on a healthy card."
        )
    else:
        share = percent(worst, 1.0)
        many = "1 cell" if max(wrong) == 1 else f"{max(wrong):,} cells"
        said = f"Memory gives back wrong data: {many}, {share} of a pass."
        measured = many if worst < FEW else f"{share} of the cells"
    yield find(
        "memory-bits", strength, bearing, claim=claimed,
        measured=measured, envelope="every cell keeps its own data", sentence=said,
    )  # fmt: skip


def spilled(case: Case) -> Iterator[Finding]:
    """Name memory that the driver took from the PC instead of the card."""
    proof = case.capacity
    if proof is not None and proof.spilled_bytes:
        size = gib(proof.spilled_bytes)
        much = proof.spilled_bytes > SPILLED * proof.claimed_bytes
        yield find(
            "spilled-memory",
            "strong" if much else "supporting",
            "open",
            claim=gib(proof.claimed_bytes),
            measured=f"{size} in the PC's memory",
            envelope="all of it on the card",
            sentence=f"{size} of what the driver gave lay in the PC's own memory: it "
            "proves nothing about the card, for or against.",
        )


def proven_capacity(case: Case) -> Iterator[Finding]:
    """Compare the proven memory with the reported, and look for why it is less."""
    proof, readings = case.capacity, _readings(case)
    if proof is None or not proof.claimed_bytes or not readings:
        return
    claimed, proven = proof.claimed_bytes, case.proven_bytes
    strength: Strength = "strong"
    bearing: Bearing = "open"
    said = f"{gib(proven)} of {gib(claimed)} were proven. "
    free = proof.free_bytes
    if proven >= PROVEN * claimed:
        bearing = "agrees"
        said = f"{gib(proven)} of {gib(claimed)} were proven to be there."
    elif proof.spilled_bytes:
        said += (
            f"Another {gib(proof.spilled_bytes)} lay in the PC's own memory and prove "
            "nothing about the card."
        )
        bearing = "contradicts"
    elif proof.ended_by == "limit asked for":
        said += "More was not asked for."
    elif proof.ended_by == "below a crash":
        said += "What lies above was left alone, as using it cut the test off."
    elif proof.ended_by == "host memory":
        said += "The PC's own memory ran short, so the rest was left alone."
    elif (
        free is not None
        and free < PROVEN * claimed
        and (proof.covered_bytes >= HELD * free)
    ):
        said += "The rest was in use by other programs."
    elif proof.covered_bytes >= PROVEN * claimed:
        said += "The other cells did not keep their data."
        bearing = "contradicts"
    else:
        said += "The driver gave no more, and nothing explains why."
        bearing = "contradicts"
    yield find(
        "proven-capacity", strength, bearing, claim=gib(claimed), measured=gib(proven),
        envelope=f"at least {gib(round(PROVEN * claimed))}", sentence=said,
    )  # fmt: skip
