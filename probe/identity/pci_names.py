"""Names from the system's table of PCI ids, where there is one. A name is a lookup.

Format: pci.ids(5). The table is optional, users' work, and often older than the card.
"""

from collections.abc import Iterable
from pathlib import Path

from reports.text import plain

PLACES = (
    Path("/usr/share/misc/pci.ids"),
    Path("/usr/share/hwdata/pci.ids"),
    Path("/usr/share/pci.ids"),
)
_SIZE_LIMIT = 16 * 2**20


def look_up(lines: Iterable[str], wanted: set[tuple[int, int]]) -> dict[str, str]:
    """Return the names of the ids wanted, as `{"10de:1b81": "GP104 [GeForce …]"}`."""
    heads = {f"{vendor:04x}" for vendor, _ in wanted}
    ids = {f"{vendor:04x}:{device:04x}" for vendor, device in wanted}
    names: dict[str, str] = {}
    vendor = ""
    for line in lines:
        if not line or line[0] in "#\n":
            continue
        if line[0] != "\t":
            vendor = line[:4] if line[:4] in heads and line[4:6] == "  " else ""
        elif vendor and line[1:2] != "\t" and f"{vendor}:{line[1:5]}" in ids:
            names[f"{vendor}:{line[1:5]}"] = plain(line[5:])
    return names


def from_system(
    wanted: set[tuple[int, int]], places: tuple[Path, ...] = PLACES
) -> tuple[dict[str, str], str | None]:
    """Names of the ids wanted, and the file they are from; empty and None without."""
    for place in places if wanted else ():
        try:
            with place.open(encoding="utf-8", errors="replace") as table:
                return look_up(table.readlines(_SIZE_LIMIT), wanted), str(place)
        except OSError:
            continue
    return {}, None
