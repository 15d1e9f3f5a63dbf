"""Whether an image is the one that a card on record runs.

A record holds what drivers and the bus said of the card. Boards set the low bits of an
NVIDIA device id by resistors, so an id in the same window is no contradiction.
"""

from collections.abc import Iterator

from reference.firmware.parse import BY_VERSION, chips_by
from reference.firmware.say import find
from reference.rules._say import a, either
from reference.table import Table
from reports.firmware_report import FirmwareCard, FirmwareContent, FirmwareFinding


def all_checks(
    image: FirmwareContent, table: Table, card: FirmwareCard
) -> Iterator[FirmwareFinding]:
    """Yield every finding of an image against a card."""
    if not image.chains:
        return
    yield from _id(image, table, card)
    yield from _subsystem(image, card)
    yield from _running(image, card)
    yield from _measured(image, card)


def _id(
    image: FirmwareContent, table: Table, card: FirmwareCard
) -> Iterator[FirmwareFinding]:
    rule, one, other = "firmware-card-id", image.pci_id, card.pci_id
    if one is None or other is None:
        return
    if one == other:
        yield find(
            rule, "supporting", "agrees", claim=other, measured=one,
            sentence=f"The card shows the PCI id that the image states, {one}.",
        )  # fmt: skip
        return
    window, shown = table.chip_by_window(one), table.chip_by_window(other)
    if (window and window == shown) or int(one[5:], 16) >> 6 == int(other[5:], 16) >> 6:
        yield find(
            rule, "supporting", "explains", claim=other, measured=one,
            sentence=f"The image states PCI id {one}, the card shows {other}: the low "
            "bits are set by resistors on the board or by straps.",
        )  # fmt: skip
        return
    yield find(
        rule, "strong", "contradicts", claim=other, measured=one,
        sentence=f"The image states PCI id {one}, the card shows {other}: this is not "
        "what the card runs, or the card's id is set by other means.",
    )  # fmt: skip


def _subsystem(image: FirmwareContent, card: FirmwareCard) -> Iterator[FirmwareFinding]:
    one, other = image.subsystem, card.subsystem
    if one is None or other is None:
        return
    yield find(
        "firmware-subsystem", "supporting", "agrees" if one == other else "contradicts",
        claim=other, measured=one,
        sentence=f"The image states subsystem {one}"
        + (", as the card shows." if one == other else f", the card shows {other}."),
    )  # fmt: skip


def _running(image: FirmwareContent, card: FirmwareCard) -> Iterator[FirmwareFinding]:
    if image.read.sha256 in card.images:
        yield find(
            "firmware-held", "supporting", "agrees", measured=image.read.sha256,
            sentence="It is byte for byte what the card's driver or the PC held when "
            "the card was tested.",
        )  # fmt: skip
    one, other = image.version, card.firmware
    if one is None or other is None:
        return
    if one.casefold() == other.casefold():
        yield find(
            "firmware-running", "supporting", "agrees", claim=other, measured=one,
            sentence=f"The card ran this version, {one}, when it was tested.",
        )  # fmt: skip
        return
    yield find(
        "firmware-running", "supporting", "open", claim=other, measured=one,
        sentence=f"The card ran version {other} when it was tested, the image is "
        f"{one}: another chip or switch position, or written since.",
    )  # fmt: skip


def _measured(image: FirmwareContent, card: FirmwareCard) -> Iterator[FirmwareFinding]:
    known = chips_by(image, BY_VERSION)
    if known is None or not card.chips:
        return
    agrees = bool(set(known.chips) & set(card.chips))
    weight = not agrees
    yield find(
        "firmware-measured-chip", "strong" if weight else "supporting",
        "agrees" if agrees else "contradicts",
        claim=either(card.chips), measured=either(known.chips),
        sentence=f"Version {image.version} is that of {a(either(known.chips))}; the "
        f"card measured as {a(either(card.chips))}.",
    )  # fmt: skip
