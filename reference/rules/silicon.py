"""Ids and counts that speak of the chip itself.

A driver takes them from what cannot be rewritten: units cut off stay off, code for
another instruction set does not run, straps reach the ids of one chip only. So a
contradiction proves the name false; agreement proves little, a driver can be edited.
"""

from collections.abc import Iterator

from reference.case import Case
from reference.rules._say import a, counted, either, find, layer
from reports.record import Bearing, Claim, Finding, Strength

_HALF = 0.5


def pci_id(case: Case) -> Iterator[Finding]:
    """Compare the chip that owns the PCI id with the claimed model's."""
    if not case.rows or case.is_part:
        return
    told = {
        (claim.pci_id.casefold(), (claim.revision or "").casefold())
        for claim in case.reported
        if claim.pci_id
    }
    ids = {one: max(rev for two, rev in told if two == one) for one, _ in told}
    for one, revision in sorted(ids.items()):
        yield _pci(case, one, revision or None)


def _pci(case: Case, one: str, revision: str | None) -> Finding:
    holders = case.table.by_pci(one)
    owner = case.table.chip_by_window(one)
    chips = {row.chip for row in holders} or ({owner} if owner else set())
    prefix = {"NVIDIA": "10de", "AMD": "1002", "Intel": "8086"}
    vendors = {prefix[row.vendor] for row in case.rows}
    wanted = either(sorted({pci for row in case.rows for pci in row.pci}))
    strength: Strength = "supporting"
    bearing: Bearing = "open"
    measured = one
    if one.partition(":")[0] not in vendors:
        strength, bearing = "decisive", "contradicts"
        measured = f"{one}, another maker's card"
        said = f"The PCI id {one} is another vendor's: no {case.model} has it."
    elif not set(holders) & set(case.all_rows) and (
        seen := case.table.seen_by_pci(one, case.all_rows)
    ):
        strength = "strong"
        measured = f"{one}, {a(seen[0].chip)}"
        said = (
            f"The PCI id {one} is listed for {a(case.model)} made of "
            f"{a(seen[0].chip)}, of which the table has no figures."
        )
    elif chips and not chips & set(case.chips):
        strength, bearing = _hard(case), "contradicts"
        measured = f"{one}, {a(either(sorted(chips)))}"
        said = (
            f"The PCI id {one} belongs to the chip {either(sorted(chips))}, "
            f"which no {case.model} is made of."
        )
    elif not holders:
        said = f"The table does not list the PCI id {one}."
        if owner:
            said = f"The PCI id {one} is not listed, but lies in {owner}'s range."
    elif set(holders) & set(case.all_rows):
        bearing = "agrees"
        said = f"The PCI id {one} is one of {a(case.model)}."
        exact = case.table.by_pci(one, revision=revision)
        if revision and not set(exact) & set(case.all_rows):
            bearing = "contradicts"
            said = (
                f"The PCI id {one} is shared; with revision {revision} it is mostly "
                f"{either(sorted({row.model for row in exact}))}."
            )
    else:
        models = either(sorted({row.model for row in holders}))
        shared = any(row.vendor == "AMD" for row in holders)
        strength, bearing = ("supporting" if shared else "strong"), "contradicts"
        measured = f"{one}, {a(models)}"
        said = (
            f"The PCI id {one} is that of {a(models)}, another model of the same chip."
        )
    return find(
        "pci-id", strength, bearing, claim=a(case.model), measured=measured,
        envelope=wanted or "not known", sentence=said,
        sources=("pci-ids", *case.sources),
    )  # fmt: skip


def compute_capability(case: Case) -> Iterator[Finding]:
    """Compare the instruction set that the driver uses with the chip's. NVIDIA."""
    wanted = {chip.compute_capability for chip in case.chips.values()} - {None}
    told = {
        claim.compute_capability for claim in case.reported if claim.compute_capability
    }
    if not case.rows or (not wanted and {row.vendor for row in case.rows} == {"AMD"}):
        return
    for one in sorted(told):
        fits = one in wanted
        yield find(
            "compute-capability",
            "strong" if fits else _hard(case),
            "agrees" if fits else "contradicts",
            claim=either(sorted(filter(None, wanted))) or "none",
            measured=one,
            envelope=either(sorted(filter(None, wanted))) or "none",
            sentence=f"Its compute capability is {one}, as on {a(case.model)}."
            if fits
            else f"The chip has compute capability {one}; {a(case.model)} has "
            f"{either(sorted(filter(None, wanted))) or 'none'}.",
            sources=("cuda-guide", *case.sources),
        )


def gfx_target(case: Case) -> Iterator[Finding]:
    """Compare the compiler target, or the chip's name in its place. AMD.

    A target within the chip's generation may be a user's override.
    """
    wanted = sorted({target for chip in case.chips.values() for target in chip.gfx})
    if not case.rows:
        return
    told = {claim.gfx_target for claim in case.reported if claim.gfx_target}
    for one in sorted(told):
        chips = case.table.chips_named(one)
        target = case.table.gfx(one)
        if not chips and not (target and wanted):
            continue
        fits = bool(set(chips) & set(case.chips))
        near = bool(target) and any((target or "")[:-2] == name[:-2] for name in wanted)
        yield find(
            "gfx-target",
            "strong" if fits or near else _hard(case),
            "agrees" if fits else "contradicts",
            claim=either(wanted or sorted(case.chips)),
            measured=one,
            envelope=either(wanted or sorted(case.chips)),
            sentence=f"The driver compiles for {one}, as on {a(case.model)}."
            if fits
            else f"The driver compiles for {one}; for {a(case.model)} it would be "
            f"{either(wanted or sorted(case.chips))}.",
            sources=case.sources,
        )


def compute_units(case: Case) -> Iterator[Finding]:
    """Compare the count of units that are switched on."""
    if not case.rows or case.is_part:
        return
    told: dict[int, list[Claim]] = {}
    for claim in case.reported:
        if claim.compute_units:
            told.setdefault(claim.compute_units, []).append(claim)
    for count, claims in sorted(told.items()):
        yield _units(case, count, claims)
    for cores in sorted({claim.cores for claim in case.reported if claim.cores}):
        yield _cores(case, cores)


def _cores(case: Case, cores: int) -> Finding:
    """NVML counts lanes, from the units that the hardware has switched on."""
    wanted = [str(one) for one in sorted({row.shaders for row in case.rows})]
    fits = str(cores) in wanted
    return find(
        "lane-count",
        "strong" if fits or case.loose else _counts_hard(case),
        "agrees" if fits else "contradicts",
        claim=either(wanted),
        measured=f"{cores} lanes",
        envelope=either(wanted),
        sentence=f"NVML counts {cores} lanes, as on {a(case.model)}."
        if fits
        else f"NVML counts {cores} lanes; {a(case.model)} has {either(wanted)}.",
        sources=case.sources,
    )


def _units(case: Case, count: int, claims: list[Claim]) -> Finding:
    """Layers that agree are one finding; where all are stand-ins it decides nothing."""
    rows = case.rows
    voices = sorted({layer(claim) for claim in claims})
    where = f"{' and '.join(voices)} {'counts' if len(voices) == 1 else 'count'}"
    trusted = not all(map(case.is_standin, claims))
    kinds = {row: case.table.architecture(row) for row in rows}
    name = kinds[rows[0]].unit_name
    wanted = either([str(units) for units in sorted({row.units for row in rows})])
    amd = any(row.vendor == "AMD" for row in rows)
    strength: Strength = _counts_hard(case)
    bearing: Bearing = "contradicts"
    if any(count == row.units * by for row in rows for by in kinds[row].units_as):
        strength, bearing = "strong", "agrees"
        said = f"{where} {counted(count, name)}, as on {a(case.model)}."
    elif any(
        kinds[row].unlocks and row.units < count <= case.table.chip(row).units
        for row in rows
    ):
        strength, bearing = "supporting", "explains"
        said = (
            f"{counted(count, name)} are more than the {wanted} of "
            f"{a(case.model)}: this chip's spare ones can be switched on."
        )
    else:
        said = f"{where} {counted(count, name)}; {a(case.model)} has {wanted}."
        if not trusted:
            strength, bearing = "supporting", "open"
            said += " This driver is known to count other things."
        elif case.loose or (amd and any(count == row.units * _HALF for row in rows)):
            strength = "strong"
    return find(
        "compute-units", strength, bearing, claim=wanted,
        measured=counted(count, name), envelope=wanted,
        sentence=said, sources=case.sources,
    )  # fmt: skip


def _counts_hard(case: Case) -> Strength:
    """Say the same of a count of units, which must not be from memory either."""
    return "strong" if case.from_memory("units") else _hard(case)


def _hard(case: Case) -> Strength:
    """Decisive, unless the card may be a genuine one on a chip hardly known."""
    return "strong" if case.on_rare_chip else "decisive"
