"""Which chip an NVIDIA firmware is for, by the first two numbers of its version.

`published` is envytools' nvbios/info.c (commit 0ab218ec). `listings` is what printed
listings of real cards bear out: version and chip shown side by side by drivers and
kernels (84 of them in tests/data/outside/firmware_versions.csv, none against). `memory`
is neither, and may only support what others say.
"""

from typing import Final

from reports.firmware_report import Basis

_PUBLISHED: Final[dict[str, tuple[str, ...]]] = {
    "60.80": ("G80",),
    "60.84": ("G84",),
    "60.86": ("G86",),
    "62.92": ("G92",),
    "62.94": ("G94", "G96"),
    "62.98": ("G98",),
    "62.00": ("GT200",),
    "70.15": ("GT215",),
    "70.16": ("GT216",),
    "70.18": ("GT218",),
    "70.00": ("GF100",),
    "70.04": ("GF104",),
    "70.06": ("GF106",),
    "70.08": ("GF108",),
    "70.10": ("GF110",),
    "70.24": ("GF114",),
    "70.26": ("GF116",),
    "75.19": ("GF119",),
    "80.04": ("GK104",),
    "80.07": ("GK107",),
}
_LISTINGS: Final[dict[str, tuple[str, ...]]] = {
    "80.06": ("GK106",),
    "80.21": ("GK210",),
    "80.28": ("GK208",),
    "80.80": ("GK110",),
    "82.07": ("GM107",),
    "82.08": ("GM108",),
    "84.00": ("GM200",),
    "84.04": ("GM204",),
    "84.06": ("GM206",),
    "86.00": ("GP100",),
    "86.02": ("GP102",),
    "86.04": ("GP104",),
    "86.06": ("GP106",),
    "86.07": ("GP107",),
    "86.08": ("GP108",),
    "88.00": ("GV100",),
    "90.04": ("TU104",),
    "90.16": ("TU116",),
    "90.17": ("TU117",),
    "92.00": ("GA100",),
    "94.02": ("GA102",),
    "94.04": ("GA104",),
    "94.06": ("GA106",),
    "94.07": ("GA107",),
    "95.02": ("AD102",),
    "95.03": ("AD103",),
    "95.04": ("AD104",),
    "95.06": ("AD106",),
    "95.07": ("AD107",),
    "96.00": ("GH100",),
    "98.03": ("GB203",),
}
_MEMORY: Final[dict[str, tuple[str, ...]]] = {
    "80.10": ("GK110",),
    "90.02": ("TU102",),
    "90.06": ("TU106",),
    "98.02": ("GB202",),
}
_TABLES: Final[tuple[tuple[Basis, dict[str, tuple[str, ...]]], ...]] = (
    ("published", _PUBLISHED),
    ("listings", _LISTINGS),
    ("memory", _MEMORY),
)
_PREFIX: Final = 5


def chips_of(version: str | None) -> tuple[tuple[str, ...], Basis] | None:
    """Return the chips of `80.07.95.00.07` and how that is known; None if it is not."""
    prefix = (version or "")[:_PREFIX]
    return next(
        ((known[prefix], basis) for basis, known in _TABLES if prefix in known), None
    )


def all_chips() -> frozenset[str]:
    """Return every chip that has a prefix."""
    return frozenset(
        chip for _, known in _TABLES for chips in known.values() for chip in chips
    )
