"""From reads to a report: compare, read whole, judge, hold a candidate against it."""

import re
from collections.abc import Sequence
from typing import Final

import msgspec

from reference.firmware import findings, parse
from reference.firmware.fit import CAUTIONS, ITSELF, fit
from reference.firmware.reads import compare
from reference.table import Table
from reports.firmware_report import (
    FirmwareCard,
    FirmwareOutcome,
    FirmwareReport,
    Fit,
)
from reports.record import CardIdentity, Claim, Record

_CERTAIN: Final = 0.95
_DIGEST: Final = re.compile("[0-9a-f]{64}")
_LAYERS: Final = ("pci", "nvml", "driver", "opencl")


def look(
    reads: Sequence[tuple[str, bytes]],
    table: Table,
    *,
    version: str,
    claim: str | None = None,
    card: FirmwareCard | None = None,
    record: Record | None = None,
    against: tuple[str, bytes] | None = None,
) -> FirmwareReport:
    """Return all that reads of one chip tell. Raises ReadError for unusable reads.

    `version` is the program's. `card` is what to compare with; a record gives its own
    card and, where nothing else is claimed, the model that it was sold as.
    """
    comparison = compare(reads)
    best = comparison.agreeing[0]
    image = parse.parse(comparison.reads[best], reads[best][1], table)
    if record is not None:
        card = card_on_record(record)
    claim = claim or (sold_as(record) if record else None)
    models = {row.model for row in table.resolve(claim)} if claim else set()
    if len(models) == 1:
        claim = models.pop()
    judged = findings.judge(comparison, image, table, claim=claim, card=card)
    candidate = None
    lines: tuple[Fit, ...] = ()
    outcome, sentence = judged.outcome, judged.sentence
    if against is not None:
        other = compare([against]).reads[0]
        candidate = parse.parse(other, against[1], table)
        lines = fit(image, candidate, table, comparison=comparison, card=card)
        outcome, sentence = _fitting(lines, outcome, sentence)
    return FirmwareReport(
        program=version,
        table_version=table.version,
        table_sha256=table.sha256,
        comparison=comparison,
        image=image,
        claim=claim,
        card=card,
        findings=judged.findings,
        against=candidate,
        fit=lines,
        outcome=outcome,
        sentence=sentence,
        cautions=CAUTIONS,
    )


def card_on_record(record: Record) -> FirmwareCard:
    """Return what a record says of its card, what it measured as included."""
    probable = record.identified.chips[:1] if record.identified else ()
    return msgspec.structs.replace(
        card_of(record.card, record.claims),
        chips=tuple(
            chip
            for one in probable
            if one.probability >= _CERTAIN
            for chip in (one.chip, *one.twins)
        ),
    )


def card_of(identity: CardIdentity, claims: Sequence[Claim]) -> FirmwareCard:
    """Return what a card's layers say of it, the bus before drivers."""
    held = identity.layers.images if identity.layers else ()
    return FirmwareCard(
        label=identity.label,
        pci_id=_pair(_first(claims, "pci_id")),
        subsystem=_pair(_first(claims, "subsystem")),
        firmware=_first(claims, "firmware"),
        images=tuple(
            digest
            for image in held
            if _DIGEST.fullmatch(digest := image.sha256.casefold())
        ),
    )


def sold_as(record: Record) -> str | None:
    """Return the model that a record's listing claims, if it has one."""
    listing = next((one for one in record.claims if one.layer == "listing"), None)
    return listing.model if listing else None


def _first(claims: Sequence[Claim], field: str) -> str | None:
    said: list[Claim] = sorted(
        (one for one in claims if one.layer in _LAYERS),
        key=lambda one: _LAYERS.index(one.layer),
    )
    values = (getattr(one, field) for one in said)
    return next((value for value in values if value), None)


def _pair(text: str | None) -> str | None:
    """Return `10de:1b81` in small letters; None for what is no pair of words."""
    parts = (text or "").casefold().split(":")
    if len(parts) != 2 or any(len(part) != 4 for part in parts):  # noqa: PLR2004
        return None
    if set("".join(parts)) <= set("0123456789abcdef"):
        return ":".join(parts)
    return None


def _fitting(
    lines: tuple[Fit, ...], outcome: FirmwareOutcome, sentence: str
) -> tuple[FirmwareOutcome, str]:
    blocks = [line for line in lines if line.state == "blocks"]
    unknown = [line for line in lines if line.state == "unknown"]
    if blocks:
        what = ", ".join(_briefly(line) for line in blocks)
        said = f"The candidate is not to be written to this card: {what}."
        return "does not fit", f"{said} {blocks[0].risk}"
    if outcome in {"faulty", "undetermined"}:
        return outcome, sentence
    if unknown:
        what = ", ".join(_briefly(line) for line in unknown)
        said = f"Whether the candidate fits stays open: {what}."
        return "undetermined", f"{said} {unknown[0].risk}"
    said = "Nothing speaks against the candidate fitting this card."
    return "nothing against it", f"{said} That is no promise that it runs."


def _briefly(line: Fit) -> str:
    """Return what a line is of; what is wrong, where it is of the candidate alone."""
    alone = line.quantity == ITSELF
    return (
        line.candidate if alone else line.quantity.lower().replace("pci id", "PCI id")
    )
