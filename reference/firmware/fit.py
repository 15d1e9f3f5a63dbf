"""Whether a candidate image fits a card, told before anyone writes it.

Compares and warns. Writes nothing, and tells nobody how to.
"""

from collections.abc import Iterator
from typing import Final

from reference.firmware.checks_claim import memory_types
from reference.firmware.parse import BY_ID, BY_VERSION, chips_by, chips_of_id
from reference.rules._say import either
from reference.table import Table
from reports.firmware_report import (
    Chain,
    Comparison,
    FirmwareCard,
    FirmwareContent,
    Fit,
    FitState,
)
from reports.units import gib

ITSELF: Final = "Candidate itself"
"""The line that is of the candidate alone."""
_DEAD: Final = (
    "The card will not start with it, and may be saved only by a reader on the chip."
)
_RESCUE: Final = "What runs on other boards may leave this one without a picture."

CAUTIONS: Final = (
    "This only compares. It writes to nothing, and neither does anything else here.",
    (
        "Flash chips come for 3.3 V and for 1.8 V in the same cases: read the marking "
        "and the datasheet first; 3.3 V destroys a 1.8 V part."
    ),
    (
        "One supply only: a chip is fed by the reader or by the board, never by both, "
        "and the card is out of the PC."
    ),
    (
        "Three reads that are the same before anything else; keep the original and its "
        "SHA-256 somewhere safe."
    ),
    (
        "Discharge yourself and the board, mark pin 1, note where a switch for two "
        "firmwares stands, and read both."
    ),
    "The maker's instructions and the safety rules of your place come first.",
)
"""The trade's cautions for whoever holds a reader to a chip (from memory)."""


def fit(
    now: FirmwareContent,
    candidate: FirmwareContent,
    table: Table,
    *,
    comparison: Comparison,
    card: FirmwareCard | None = None,
) -> tuple[Fit, ...]:
    """Return every respect in which a candidate is held against what is there."""
    return (
        _reads(comparison),
        *_whole(candidate),
        *_vendor(now, candidate),
        *_chip(now, candidate, card),
        *_id(now, candidate, table, card),
        *_subsystem(now, candidate, card),
        _size(now, candidate),
        *_memory(now, candidate),
        *_outputs(now, candidate),
        *_version(now, candidate),
    )


def _reads(comparison: Comparison) -> Fit:
    count = len(comparison.agreeing)
    total = len(comparison.reads)
    ready = comparison.identical and total > 1
    state: FitState = "same" if ready else "unknown" if total == 1 else "differs"
    if count == 1 < total:
        state = "blocks"
    return Fit(
        quantity="Reads of what is there",
        card=f"{count} of {total} the same" if total > 1 else "one read",
        candidate="",
        state=state,
        risk="" if ready else "There is no copy to go back to that is known to be "
        "right: take three reads that are the same.",
    )  # fmt: skip


def _whole(candidate: FirmwareContent) -> Iterator[Fit]:
    chain = candidate.chains[0] if candidate.chains else None
    wrong = [
        f"image {number}"
        for one in candidate.chains
        for number, image in enumerate(one.images, 1)
        if image.checksum_right is False
    ]
    if chain is None:
        said, state = "no expansion ROM in it", "blocks"
    elif not _complete(candidate.chains):
        said, state = "cut off or broken", "blocks"
    elif wrong:
        said, state = f"sum wrong in {either(wrong)}", "blocks"
    else:
        said, state = "whole, sums right", "same"
    yield Fit(
        quantity=ITSELF,
        card="",
        candidate=said,
        state="same" if state == "same" else "blocks",
        risk="" if state == "same" else _DEAD,
    )


def _complete(chains: tuple[Chain, ...]) -> bool:
    return all(chain.complete for chain in chains)


def _vendor(now: FirmwareContent, candidate: FirmwareContent) -> Iterator[Fit]:
    one, other = (image.pci_id and image.pci_id[:4] for image in (now, candidate))
    if one is None or other is None or one == other:
        return
    yield Fit(
        quantity="Vendor", card=one, candidate=other, state="blocks", risk=_DEAD
    )  # fmt: skip


def _chip(
    now: FirmwareContent, candidate: FirmwareContent, card: FirmwareCard | None
) -> Iterator[Fit]:
    theirs, own = _chips(candidate), _chips(now)
    version, by_id = chips_by(candidate, BY_VERSION), chips_by(candidate, BY_ID)
    if version and by_id and not set(version.chips) & set(by_id.chips):
        yield Fit(
            quantity="Candidate's own chip",
            card="",
            candidate=f"{either(version.chips)} by version, {either(by_id.chips)} by "
            "PCI id",
            state="blocks",
            risk="It was changed to pass for another card: whatever it does, it keeps "
            "the card a counterfeit.",
        )
    now_by = chips_by(now, BY_VERSION)
    measured = set(card.chips) if card else set()
    started = set(now_by.chips) if now_by else set()
    chips = measured or started or own
    doubt = not measured and bool(own - chips)
    shown = either(sorted(own if doubt else chips)) or "not known"
    state: FitState
    if not chips or not theirs:
        state, risk = "unknown", "Read the chip's marking before anything is written."
    elif not chips & theirs:
        state, risk = "blocks", f"A firmware for another chip. {_DEAD}"
        if doubt:
            risk += f" What starts the card now is one for {either(sorted(chips))}."
    elif doubt:
        state = "unknown"
        risk = "What is there speaks of several chips: read the marking on the die."
    else:
        state, risk = "same", ""
    yield Fit(
        quantity="Chip",
        card=f"{shown} (measured)" if measured else shown,
        candidate=either(sorted(theirs)) or "not known",
        state=state,
        risk=risk,
    )


def _chips(image: FirmwareContent) -> set[str]:
    """Return every chip that version or id speak of; texts are not asked."""
    return {
        chip
        for one in image.names
        if one.by in {BY_VERSION, BY_ID}
        for chip in one.chips
    }


def _id(
    now: FirmwareContent,
    candidate: FirmwareContent,
    table: Table,
    card: FirmwareCard | None,
) -> Iterator[Fit]:
    one = (card.pci_id if card else None) or now.pci_id
    other = candidate.pci_id
    if one is None or other is None:
        return
    same_chip = bool(set(chips_of_id(one, table)) & set(chips_of_id(other, table)))
    yield Fit(
        quantity="PCI id",
        card=one,
        candidate=other,
        state="same" if one == other else "differs",
        risk=(
            ""
            if one == other
            else "Drivers will take the card for another model of the same chip."
            if same_chip
            else "Drivers will take the card for one with another chip, or the id the "
            "card shows now is itself not its own."
        ),
    )


def _subsystem(
    now: FirmwareContent, candidate: FirmwareContent, card: FirmwareCard | None
) -> Iterator[Fit]:
    one = (card.subsystem if card else None) or now.subsystem
    other = candidate.subsystem
    if one is None or other is None:
        return
    yield Fit(
        quantity="Subsystem",
        card=one,
        candidate=other,
        state="same" if one == other else "differs",
        risk=""
        if one == other
        else "It was made for another board: voltages, fan, sensors and sockets may "
        "be wired otherwise.",
    )


def _size(now: FirmwareContent, candidate: FirmwareContent) -> Fit:
    one, other = now.surface.size_bytes, candidate.surface.size_bytes
    state: FitState
    if not now.surface.power_of_two:
        state, risk = "unknown", "What was read is no whole chip: its size is unknown."
    elif now.surface.repeats_bytes:
        one = now.surface.repeats_bytes
        state = "same" if other == one else "blocks" if other > one else "differs"
        risk = "The chip is smaller than what was read." if state != "same" else ""
    elif other > one:
        state, risk = "blocks", "It is larger than the chip."
    elif other < one:
        state = "differs"
        risk = "It does not fill the chip: what lies behind stays as it is."
    else:
        state, risk = "same", ""
    return Fit(
        quantity="Size", card=gib(one), candidate=gib(other), state=state, risk=risk
    )


def _memory(now: FirmwareContent, candidate: FirmwareContent) -> Iterator[Fit]:
    one, other = set(memory_types(now)), set(memory_types(candidate))
    parts = [
        {m.part_number for m in image.atom.memory if m.part_number}
        if image.atom
        else set()
        for image in (now, candidate)
    ]
    if all(parts):
        one, other = one | parts[0], other | parts[1]
    if not one or not other:
        known = either(sorted(one)) or "not stated"
        yield Fit(
            quantity="Memory",
            card=known,
            candidate=either(sorted(other)) or "not stated",
            state="unknown",
            risk="Read the marking of the memory chips: a firmware starts only the "
            "memory that it knows.",
        )
        return
    state: FitState = "same" if one == other else "differs"
    if not one & other or (all(parts) and not parts[0] & parts[1]):
        state = "blocks"
    yield Fit(
        quantity="Memory",
        card=either(sorted(one)),
        candidate=either(sorted(other)),
        state=state,
        risk={
            "same": "",
            "differs": "It knows not all of the same memory: read the marking of the "
            "memory chips.",
            "blocks": "It does not know this card's memory and will not start it.",
        }[state],
    )


def _outputs(now: FirmwareContent, candidate: FirmwareContent) -> Iterator[Fit]:
    one, other = (
        (image.nvidia or image.atom).connectors  # type: ignore[union-attr]
        if image.nvidia or image.atom
        else ()
        for image in (now, candidate)
    )
    if not one or not other:
        return
    same = sorted(one) == sorted(other)
    yield Fit(
        quantity="Sockets",
        card=", ".join(one),
        candidate=", ".join(other),
        state="same" if same else "differs",
        risk="" if same else f"Sockets may stay dark. {_RESCUE}",
    )


def _version(now: FirmwareContent, candidate: FirmwareContent) -> Iterator[Fit]:
    one, other = now.version, candidate.version
    if one is None or other is None:
        return
    yield Fit(
        quantity="Version",
        card=one,
        candidate=other,
        state="same" if one == other else "differs",
        risk=""
        if one != other
        else "It is what the card runs already, by its version.",
    )
