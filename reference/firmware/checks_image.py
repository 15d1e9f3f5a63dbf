"""Whether reads agree and whether an image is whole and at one with itself.

Sources: PCI Firmware Specification 3.x, chapter 5 (chain, checksum); NVIDIA's BIOS
Information Table specification (header sum); what else is trade practice says so.
"""

from collections.abc import Iterator
from typing import Final

from reference.firmware import lines
from reference.firmware.parse import BY_ID, BY_TEXTS, BY_VERSION, chips_by
from reference.firmware.say import find
from reference.rules._say import a, either
from reports.firmware_report import Comparison, FirmwareContent, FirmwareFinding
from reports.units import gib

_PCI: Final = ("PCI Firmware Specification 3.x, chapter 5",)
_BIT: Final = ("NVIDIA: BIOS Information Table",)
_ENOUGH: Final = 3
_PAIR: Final = 2
_SHADOWS: Final = (0x10000, 0x20000)
"""Sizes of the copy that a PC keeps at C0000: 64 and 128 KiB."""
_PREFACES: Final = ("NVGI",)
"""What makers put before the first image (from memory)."""
_TEXT: Final = 0x80
"""Never set in plain text: no sign of a line that stands still."""
_WIDEST: Final = 8
_DENSE: Final = 5.5
"""Bits a byte: firmware has stretches above this, text has none."""


def all_checks(
    comparison: Comparison, image: FirmwareContent
) -> Iterator[FirmwareFinding]:
    """Yield every finding that an image gives by itself."""
    yield from _reads(comparison)
    yield from _surface(image)
    yield from _chain(image)
    yield from _checksum(image)
    yield from _table_sum(image)
    yield from _ids(image)
    yield from _chips(image)
    yield from _straps(image)


def _reads(comparison: Comparison) -> Iterator[FirmwareFinding]:
    rule, total = "firmware-reads", len(comparison.reads)
    agreeing = len(comparison.agreeing)
    if total == 1:
        yield find(
            rule, "supporting", "open", measured="one read", envelope="three, the same",
            sentence="One read alone cannot show that it was read right: take three "
            "and give them all.",
        )  # fmt: skip
        return
    if comparison.identical:
        both = "Both" if total == _PAIR else f"All {total}"
        enough = "" if total >= _ENOUGH else " Three are the custom."
        yield find(
            rule, "supporting", "agrees", measured=f"{total} reads, all the same",
            envelope="three, the same",
            sentence=f"{both} reads are the same, byte for byte.{enough}",
        )  # fmt: skip
        return
    alone = agreeing == 1
    yield find(
        rule, "strong" if alone else "supporting", "fault",
        measured=f"{agreeing} of {total} the same" if not alone else "no two the same",
        envelope="three, the same",
        sentence=(
            "No two reads are the same, so none can be relied on."
            if alone
            else f"{agreeing} of {total} reads are the same, the others differ."
        )
        + f" {comparison.differences[0].sentence}",
    )  # fmt: skip


def _surface(image: FirmwareContent) -> Iterator[FirmwareFinding]:
    rule, one = "firmware-surface", image.surface
    size = one.size_bytes
    for count, name in ((one.ones_bytes, "FF"), (one.zero_bytes, "00")):
        if count == size:
            yield find(
                rule, "strong", "fault", measured=f"nothing but {name}",
                sentence=f"Every byte is {name}: the chip is empty, has no power, or "
                "the clip makes no contact.",
            )  # fmt: skip
            return
    for mask, value in ((one.stuck_ones, 1), (one.stuck_zeros, 0)):
        text = (mask == _TEXT and not value) or max(one.entropy) < _DENSE
        text = text and not image.chains
        wire = lines.wire(mask)
        if wire and size >= _SHADOWS[0] and not text:
            bits = ", ".join(str(bit) for bit in range(wire[0], 8, wire[1]))
            some = f"Bit {bits} is" if wire[1] == _WIDEST else f"Bits {bits} are"
            yield find(
                rule, "strong", "fault", measured=f"data line {wire[0]} of {wire[1]}",
                sentence=f"{some} {value} in every byte: that line does not move, "
                "nothing read can be relied on.",
            )  # fmt: skip
    if one.repeats_bytes:
        yield find(
            rule, "supporting", "explains",
            measured=f"repeats every {gib(one.repeats_bytes)}",
            sentence=f"The content repeats every {gib(one.repeats_bytes)}: the chip "
            f"is smaller than the {gib(size)} read, or it holds the same twice.",
        )  # fmt: skip
    if one.folded_line is not None:
        yield find(
            rule, "strong", "fault", measured=f"address line {one.folded_line}",
            sentence=f"Address line {one.folded_line} makes no difference anywhere: "
            "half of the content was never read.",
        )  # fmt: skip
    if not one.power_of_two and image.chains:
        whole = image.chains[0].complete
        yield find(
            rule, "supporting", "explains", measured=f"{size} bytes",
            envelope="a power of two, as chips are",
            sentence=f"{size} bytes are no chip's size: "
            + (
                "this is an image cut to its length, not a whole read."
                if whole
                else "the read or the copy broke off."
            ),
        )  # fmt: skip


def _chain(image: FirmwareContent) -> Iterator[FirmwareFinding]:
    rule = "firmware-chain"
    first = image.chains[0].offset_bytes if image.chains else 0
    if first and image.preface not in _PREFACES:
        yield find(
            rule, "supporting", "open", measured=f"from {first:#x} on",
            sentence=f"The first image begins at {first:#x}, not at 0: something else "
            "lies before it, or the start was misread. Read again and compare.",
        )  # fmt: skip
    for chain in image.chains:
        where = f" (chain at {chain.offset_bytes:#x})" if chain.offset_bytes else ""
        if chain.complete:
            count = len(chain.images)
            if chain.images[0].structure is None:
                yield find(
                    rule, "supporting", "open", measured="one header alone",
                    sources=_PCI,
                    sentence="It has the header of an expansion ROM and no PCI data "
                    "structure: which card it is for is not in it.",
                )  # fmt: skip
                continue
            yield find(
                rule, "supporting", "agrees",
                measured=f"{count} image{'s' * (count > 1)}", sources=_PCI,
                sentence=f"The expansion ROM is whole: {count} "
                f"image{'s' * (count > 1)}, the last one marked as such{where}.",
            )  # fmt: skip
            continue
        shadow = (
            " A file of 64 or 128 KiB may be the copy that a PC keeps of a running "
            "card's firmware, not the chip's content."
            if image.surface.size_bytes in _SHADOWS
            else ""
        )
        yield find(
            rule, "strong" if chain is image.chains[0] else "supporting", "fault",
            measured=f"{len(chain.images)} images, the last one missing", sources=_PCI,
            sentence="The expansion ROM is not whole"
            f"{where}. {' '.join(chain.problems)}{shadow}",
        )  # fmt: skip


def _checksum(image: FirmwareContent) -> Iterator[FirmwareFinding]:
    rule = "firmware-checksum"
    for chain in image.chains:
        for number, one in enumerate(chain.images, 1):
            if one.checksum_right is None:
                continue
            right = one.checksum_right
            yield find(
                rule, "supporting" if right else "strong",
                "agrees" if right else "fault",
                measured=f"sum {one.checksum:02X}", envelope="sum 00", sources=_PCI,
                sentence=f"The sum over image {number} at {one.offset_bytes:#x} is "
                + (
                    "right; whoever edits an image puts it right, too."
                    if right
                    else f"{one.checksum:02X} and not 00: it was misread, edited "
                    "without care, or copied while it ran."
                ),
            )  # fmt: skip


def _table_sum(image: FirmwareContent) -> Iterator[FirmwareFinding]:
    if image.nvidia and image.nvidia.bit_checksum_right is False:
        yield find(
            "firmware-table-sum", "supporting", "fault", sources=_BIT,
            sentence="The header of the BIOS information table does not add up to 0.",
        )  # fmt: skip
    if image.nvidia and image.nvidia.other_version:
        yield find(
            "firmware-versions", "supporting", "contradicts", sources=_BIT,
            claim=image.nvidia.version or "", measured=image.nvidia.other_version,
            sentence=f"The image states two versions, {image.nvidia.version} and "
            f"{image.nvidia.other_version}: one was changed.",
        )  # fmt: skip
    if image.atom and not image.atom.signature_right:
        yield find(
            "firmware-table-sum", "supporting", "fault",
            sources=("Linux: amdgpu/atom.c",),
            sentence="The mark of an AMD image is there, its header's is not.",
        )  # fmt: skip


def _ids(image: FirmwareContent) -> Iterator[FirmwareFinding]:
    """Compare the ids of the images of one chain: an old one is easily left behind.

    That genuine chains carry one id throughout is from memory.
    """
    for chain in image.chains:
        first = chain.images[0]
        for number, one in enumerate(chain.images[1:], 2):
            same = one.vendor_id == first.vendor_id
            if one.device_id == first.device_id or one.device_id is None or not same:
                continue
            if one.device_id in first.further_ids or not one.device_id:
                continue
            yield find(
                "firmware-image-ids", "supporting", "contradicts",
                claim=f"{first.device_id or 0:04x}", measured=f"{one.device_id:04x}",
                sentence=f"Image {number} is for device {one.device_id:04x}, the "
                f"first for {first.device_id or 0:04x}: one of the two was changed, "
                "or it serves several cards.",
            )  # fmt: skip


def _chips(image: FirmwareContent) -> Iterator[FirmwareFinding]:
    """Compare what version, id and texts say of the chip."""
    rule = "firmware-chips"
    version = chips_by(image, BY_VERSION)
    for by in (BY_ID, BY_TEXTS):
        other = chips_by(image, by)
        if version is None or other is None:
            continue
        agree = bool(set(version.chips) & set(other.chips))
        weighty = by == BY_ID
        yield find(
            rule, "strong" if weighty and not agree else "supporting",
            "agrees" if agree else "contradicts",
            claim=either(other.chips), measured=either(version.chips),
            sources=version.sources,
            sentence=(
                f"Version {image.version} and {_what(by, image)} are of one chip, "
                f"{either(version.chips)}."
                if agree
                else f"Version {image.version} is that of {a(either(version.chips))}, "
                f"{_what(by, image)} of {a(either(other.chips))}: one of the two was "
                "changed."
            ),
        )  # fmt: skip


def _what(by: str, image: FirmwareContent) -> str:
    return f"PCI id {image.pci_id}" if by == BY_ID else "the texts"


def _straps(image: FirmwareContent) -> Iterator[FirmwareFinding]:
    straps = image.nvidia.straps if image.nvidia else None
    if straps is None or not straps.id_bits:
        return
    width = straps.id_bits.bit_length()
    low = "".join(
        str((straps.id_value or 0) >> bit & 1) if straps.id_bits >> bit & 1 else "x"
        for bit in reversed(range(width))
    )
    yield find(
        "firmware-straps", "supporting", "explains", measured=f"device id ends {low}",
        sources=("envytools: docs/hw/io/pstraps.rst",),
        sentence="The firmware sets low bits of the device id in place of the board's "
        f"resistors: it ends in {low} (binary). Makers do so as well.",
    )  # fmt: skip
