"""Names and ids: every layer should speak of one card, and of the one sold.

Names and ids come from firmware and driver: agreement proves little, a contradiction
with silicon that cannot change (chip, unit count, instruction set) proves the name
false. Silicon that was measured is judged in the other files.
"""

from collections.abc import Iterator

from reference.case import FOREIGN_DRIVERS, Case
from reference.rows import Variant
from reference.rules._say import a, either, find
from reports.record import Bearing, Claim, Finding, Strength

_HALF = 0.5


def model_known(case: Case) -> Iterator[Finding]:
    """Look for the claimed model in the table."""
    rule = "model-known"
    if not case.all_rows:
        name = case.model
        if not name:
            said = "Nothing names a model: neither a listing nor the card."
        elif case.reported_chips and not case.is_listed:
            said = (
                f"The driver gives only the chip's name ({name}), not the model: "
                "what it was sold as has to be told."
            )
        else:
            near = case.table.near(name)
            hint = f" Alike are {either(near)}." if near else ""
            said = f"The table of genuine cards has no {name}.{hint}"
        yield find(
            rule,
            "strong",
            "open",
            claim=name,
            envelope="not in the table",
            sentence=said,
        )
        return
    yield find(
        rule,
        "supporting",
        "agrees",
        claim=case.model,
        measured=f"{len(case.rows)} variants in the table",
        envelope=either(sorted({row.chip for row in case.rows})),
        sentence=f"{case.model} is a model that was made.",
        sources=case.sources,
    )


def listing_model(case: Case) -> Iterator[Finding]:
    """Compare the model that the card reports with the listing's."""
    if not (case.is_listed and case.listed_rows):
        return
    name = case.reported_name
    if name is None:
        yield _model(case, "strong", "open", "", "The card names no model of its own.")
    elif case.sliced and not case.reported_rows:
        yield _model(
            case,
            "strong",
            "open",
            name,
            f"What is seen is a part of a card, lent to a virtual machine ({name}): "
            "only the whole card can be compared.",
        )
    elif case.reported_rows:
        yield _compared(case, name)
    elif case.reported_chips:
        chips = set(case.reported_chips)
        if chips & {row.chip for row in case.listed_rows}:
            yield _model(
                case, "supporting", "agrees", name,
                f"The driver names the chip, {name}, which {a(case.model)} is made of.",
            )  # fmt: skip
        else:
            yield _model(
                case, "decisive", "contradicts", name,
                f"Sold as {a(case.model)}, but the driver names the chip {name}, "
                f"which no {case.model} is made of.",
            )  # fmt: skip
    else:
        yield _model(
            case, "strong", "open", name,
            f"The card calls itself {name}, which the table does not know, so its "
            "name can be held neither for nor against it.",
        )  # fmt: skip


def _compared(case: Case, name: str) -> Finding:
    listed, reported = set(case.listed_rows), set(case.reported_rows)
    if listed & reported:
        return _model(
            case, "strong", "agrees", name,
            f"Sold as {a(case.model)}, and the card says so too: {name}.",
        )  # fmt: skip
    if _siblings(case.listed_rows, case.reported_rows):
        return _model(
            case, "strong", "contradicts", name,
            f"Sold as {a(case.model)}; the card calls itself {name}, a model of the "
            "same chip, units and PCI id. Its driver cannot always tell them apart.",
        )  # fmt: skip
    return _model(
        case, "decisive", "contradicts", name,
        f"Sold as {a(case.model)}, but the card itself says it is {a(name)}.",
    )  # fmt: skip


def _siblings(one: tuple[Variant, ...], other: tuple[Variant, ...]) -> bool:
    """Whether AMD's driver may print the other's name: shared id, chip and units."""
    return any(
        left.vendor == "AMD"
        and left.chip == right.chip
        and left.units == right.units
        and set(left.pci) & set(right.pci)
        for left in one
        for right in other
    )


def _model(
    case: Case, strength: Strength, bearing: Bearing, name: str, sentence: str
) -> Finding:
    return find(
        "reported-model",
        strength,
        bearing,
        claim=case.model,
        measured=name,
        envelope=case.model,
        sentence=sentence,
        sources=case.sources,
    )


def layers_agree(case: Case) -> Iterator[Finding]:
    """Compare the names that the card's own layers give."""
    known = [
        (claim, rows)
        for claim in case.reported
        if claim.model
        and not case.table.chips_named(claim.model)
        and (rows := case.table.resolve(claim.model))
    ]
    for number, (claim, rows) in enumerate(known):
        for other, others in known[:number]:
            if not set(rows) & set(others) and not _siblings(rows, others):
                yield find(
                    "names-agree",
                    "strong",
                    "contradicts",
                    claim=other.model or "",
                    measured=claim.model or "",
                    envelope="one name in all layers",
                    sentence=f"{_layer(other)} names it {other.model}, {_layer(claim)} "
                    f"names it {claim.model}: one of the two was changed.",
                )
                return


def pci_id(case: Case) -> Iterator[Finding]:
    """Compare the chip that owns the PCI id with the claimed model's."""
    if not case.rows or case.sliced:
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
    if one.partition(":")[0] not in vendors:
        strength, bearing = "decisive", "contradicts"
        said = f"The PCI id {one} is another vendor's: no {case.model} has it."
    elif chips and not chips & set(case.chips):
        strength, bearing = _hard(case), "contradicts"
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
        said = f"The PCI id {one} is that of {models}, another model of the same chip."
    return find(
        "pci-id", strength, bearing, claim=case.model, measured=one,
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
            claim=case.model,
            measured=one,
            envelope=either(sorted(filter(None, wanted))) or "none",
            sentence=f"Its compute capability is {one}, as on {a(case.model)}."
            if fits
            else f"The chip has compute capability {one}; {a(case.model)} has "
            f"{either(sorted(filter(None, wanted))) or 'none'}.",
            sources=("cuda-guide", *case.sources),
        )


def gfx_target(case: Case) -> Iterator[Finding]:
    """Compare the compiler target with the chip's. AMD; users can override it."""
    wanted = sorted({target for chip in case.chips.values() for target in chip.gfx})
    told = {
        target
        for claim in case.reported
        if (target := case.table.gfx(claim.gfx_target or ""))
    }
    if not wanted:
        return
    for one in sorted(told):
        fits = one in wanted
        near = any(one[:-2] == target[:-2] for target in wanted)
        yield find(
            "gfx-target",
            "strong" if fits or near else "decisive",
            "agrees" if fits else "contradicts",
            claim=case.model,
            measured=one,
            envelope=either(wanted),
            sentence=f"Its compiler target is {one}, as on {a(case.model)}."
            if fits
            else f"The driver compiles for {one}; for {a(case.model)} it would be "
            f"{either(wanted)}.",
            sources=case.sources,
        )


def compute_units(case: Case) -> Iterator[Finding]:
    """Compare the count of units that are switched on."""
    if not case.rows or case.sliced:
        return
    for count, where, trusted in sorted(set(_counts(case))):
        yield _units(case, count, where, trusted=trusted)
    for cores in sorted({claim.cores for claim in case.reported if claim.cores}):
        yield _cores(case, cores)


def _counts(case: Case) -> Iterator[tuple[int, str, bool]]:
    for claim in case.reported:
        words = f"{claim.source} {case.record.card.platform or ''}".casefold()
        foreign = any(word in words for word in FOREIGN_DRIVERS)
        if claim.compute_units:
            yield claim.compute_units, _layer(claim), not foreign


def _cores(case: Case, cores: int) -> Finding:
    """NVML counts lanes, from the units that the hardware has switched on."""
    wanted = [str(one) for one in sorted({row.shaders for row in case.rows})]
    fits = str(cores) in wanted
    return find(
        "lane-count",
        "strong" if fits or case.loose else _hard(case),
        "agrees" if fits else "contradicts",
        claim=f"{either(wanted)} lanes",
        measured=f"{cores} lanes",
        envelope=either(wanted),
        sentence=f"NVML counts {cores} lanes, as on {a(case.model)}."
        if fits
        else f"NVML counts {cores} lanes; {a(case.model)} has {either(wanted)}.",
        sources=case.sources,
    )


def _units(case: Case, count: int, where: str, *, trusted: bool) -> Finding:
    rows = case.rows
    kinds = {row: case.table.architecture(row) for row in rows}
    name = kinds[rows[0]].unit_name
    wanted = sorted({row.units for row in rows})
    amd = any(row.vendor == "AMD" for row in rows)
    strength: Strength = _hard(case)
    bearing: Bearing = "contradicts"
    if any(count == row.units * by for row in rows for by in kinds[row].units_as):
        strength, bearing = "strong", "agrees"
        said = f"{where} counts {count} {_many(name, count)}, as on {a(case.model)}."
    elif any(
        kinds[row].unlocks and row.units < count <= case.table.chip(row).units
        for row in rows
    ):
        strength, bearing = "supporting", "explains"
        said = (
            f"{count} {_many(name, count)} are more than the {either(map(str, wanted))} of "
            f"{a(case.model)}: this chip's spare ones can be switched on."
        )
    else:
        said = (
            f"{where} counts {count} {_many(name, count)}; {a(case.model)} has "
            f"{either(map(str, wanted))}."
        )
        if not trusted:
            strength, bearing = "supporting", "open"
            said += " This driver is known to count other things."
        elif case.loose or (amd and any(count == row.units * _HALF for row in rows)):
            strength = "strong"
    return find(
        "compute-units", strength, bearing, claim=f"{either(map(str, wanted))} {name}s",
        measured=f"{count} {_many(name, count)}", envelope=either(map(str, wanted)), sentence=said,
        sources=case.sources,
    )  # fmt: skip


def _many(name: str, count: int) -> str:
    return name if count == 1 else f"{name}s"


def _hard(case: Case) -> Strength:
    """Decisive, unless the card may be a genuine one on a chip hardly known."""
    return "strong" if case.on_rare_chip else "decisive"


def _layer(claim: Claim) -> str:
    return {"opencl": "OpenCL", "nvml": "NVML", "pci": "The PCI bus"}.get(
        claim.layer, "The driver"
    )
