"""Names: every layer should speak of one card, and of the one sold.

Names come from firmware and driver: agreement proves little. Ids and counts that speak
of the chip are compared in `silicon.py`.
"""

from collections.abc import Iterator

from reference.case import Case
from reference.rows import Variant
from reference.rules._say import a, counted, either, find, layer, within
from reports.record import Bearing, Finding, Strength


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
        measured=counted(len(case.rows), "variant") + " in the table",
        envelope=either(sorted({row.chip for row in case.rows})),
        sentence=f"{case.model} is a model that was made.",
        sources=case.sources,
    )


def listing_model(case: Case) -> Iterator[Finding]:
    """Compare the model that the card reports with the listing's."""
    if not (case.is_listed and case.listed_rows):
        return
    name = case.reported_name
    if case.unmeasured and not case.reported:
        return  # the card was not asked
    if name is None:
        yield _model(case, "strong", "open", "", "The card names no model of its own.")
    elif case.is_part and not case.reported_rows and not case.sliced:
        yield _model(
            case,
            "strong",
            "open",
            name,
            f"Sold as {a(case.model)}; the card calls itself a laptop's part "
            f"({name}), which the table does not know.",
        )
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
                case, "strong" if case.looked_up else "decisive", "contradicts", name,
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
    if case.looked_up:
        return _model(
            case, "strong", "contradicts", name,
            f"Sold as {a(case.model)}, but by its PCI id it is listed as {a(name)}.",
        )  # fmt: skip
    if _siblings(case.listed_rows, case.reported_rows):
        return _model(
            case, "strong", "contradicts", name,
            f"Sold as {a(case.model)}; the card calls itself {name}, a model of the "
            "same chip, units and PCI id. Its driver cannot always tell them apart.",
        )  # fmt: skip
    if case.is_family and {row.architecture for row in case.listed_rows} & {
        row.architecture for row in case.reported_rows
    }:
        return _model(
            case, "strong", "open", name,
            f"Sold as {a(case.model)}; its driver names a whole family, {name}, of "
            "which the table may not know every member.",
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
        and claim.layer != "pci"  # its name is looked up by the id, judged elsewhere
        and not case.is_standin(claim)
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
                    sentence=f"{layer(other)} names it {other.model}, {within(claim)} "
                    f"names it {claim.model}: one of the two was changed.",
                )
                return
