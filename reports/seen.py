"""What a person saw, and what a read of the firmware holds, as short lines.

Words alone, cleaned; nothing is judged here.
"""

from typing import Final

from reports.firmware_report import FirmwareReport
from reports.inspection import Inspection, Photo
from reports.text import plain
from reports.units import gib

Line = tuple[str, str]
"""What it is, what was seen or read."""

_LONGEST: Final = 300
_SHOWN: Final = 6
_SURFACE: Final = {
    "clear": "legible",
    "unreadable": "could not be read",
    "tampered": "removed or covered",
}


def inspected(seen: Inspection | None) -> tuple[Line, ...]:
    """Return what was seen, a line each; what nobody looked at is left out."""
    if seen is None:
        return ()
    chips = str(seen.memory_chips) if seen.memory_chips else ""
    each = [
        _density(seen.memory_density_mbit) if seen.memory_density_mbit else "",
        f"{seen.memory_width_bits} bits wide" if seen.memory_width_bits else "",
        f"marked {seen.memory_marking}" if seen.memory_marking else "",
    ]
    told = [
        ("Marking of the die", seen.die),
        ("State of that marking", _SURFACE.get(seen.die_surface or "clear")
         if seen.die_surface else None),
        ("Sockets for displays", _several(seen.outputs)),
        ("Power connectors", _several(seen.plugs)),
        ("Memory chips", ", ".join(filter(None, (chips, *each))) or None),
        ("Contacts of its edge", f"for {seen.contacts} lanes" if seen.contacts
         else None),
        ("Labels", _several(seen.labels)),
        ("Photos", _several(tuple(_photo(one) for one in seen.photos)) if seen.photos
         else None),
    ]  # fmt: skip
    return tuple((term, plain(text, _LONGEST)) for term, text in told if text)


def photos(seen: Inspection | None) -> tuple[tuple[str, str, str], ...]:
    """Return name, size and digest of each photo."""
    return tuple(
        (plain(one.name), f"{one.size_bytes:,}", one.sha256)
        for one in (seen.photos if seen else ())
    )


def firmware(report: FirmwareReport | None) -> tuple[Line, ...]:
    """Return what a read of the firmware came to, a line each."""
    if report is None:
        return ()
    image, reads = report.image, report.comparison.reads
    same = "the same, byte for byte" if report.comparison.identical else "not the same"
    chips = [f"{' or '.join(one.chips)} by its {one.by}" for one in image.names]
    told = [
        ("Reads", f"{len(reads)}, {same}" if len(reads) > 1 else "one"),
        ("Size", gib(image.read.size_bytes)),
        ("PCI id in it", image.pci_id),
        ("Subsystem in it", image.subsystem),
        ("Version", image.version),
        ("Built", image.built),
        ("Made for", _several(tuple(chips)) if chips else None),
        ("Models in its texts", _several(image.models) if image.models else None),
        ("SHA-256", image.read.sha256),
        ("By itself", report.sentence),
    ]
    return tuple((term, plain(text, _LONGEST)) for term, text in told if text)


def joined(lines: tuple[Line, ...]) -> tuple[str, ...]:
    """Return lines as `term: text`, for a medium without columns."""
    return tuple(f"{term}: {text}" for term, text in lines)


def _several(words: tuple[str, ...] | None) -> str | None:
    if words is None:
        return None
    if len(words) > _SHOWN:
        words = (*words[:_SHOWN], f"and {len(words) - _SHOWN} more")
    return ", ".join(words) or "none"


def _density(mbit: int) -> str:
    return f"{mbit // 1024} Gbit each" if mbit % 1024 == 0 else f"{mbit} Mbit each"


def _photo(one: Photo) -> str:
    return f"{one.name} (sha256 {one.sha256[:12]}…)"
