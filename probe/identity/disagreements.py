"""Where the layers of one card contradict each other. Pure; a mark, not a verdict.

Lenient on purpose: layers word names differently, count units differently and leave
out reserved memory on genuine cards. What is marked here is a plain contradiction.
"""

import re
from collections.abc import Sequence
from typing import Final

from reports.record import Claim

_MEMORY_TOLERANCE: Final = 0.06
_INTEL_SHORTFALL: Final = 0.25
"""Intel's drivers show 75 to 100 % of a card's memory (published reports)."""
_UNIT_RATIOS: Final = (0.5, 1.0, 2.0)
"""AMD's drivers count pairs of units on some chips, single units on others."""

_WORDS: Final = {
    "opencl": "OpenCL",
    "nvml": "NVML",
    "pci": "PCI",
    "driver": "the driver",
    "listing": "the listing",
}
_KINDS: Final = {"ti", "super", "xt", "xtx", "gre", "titan"}
"""Words that tell models with the same number apart."""
_SERIES: Final = {"r5", "r7", "r9", "gtx", "rtx"}
_SIZE: Final = re.compile(r"\d+(?:gb|gib|mb)")
_NOT_MODEL: Final = re.compile(
    r"(?:sxm|hbm|ddr|gddr|pcie|nvl)\d*[a-z]?|\d+th|\d+sp|\d{1,2}[abcq]"
)
"""Sockets, memory kinds, anniversaries, lane counts, a virtual machine's share."""
_ID_FOR_NAME: Final = re.compile(r"\[0x[0-9a-f]+\]|\bdevice [0-9a-f]{4}\b")
"""What drivers print for a card that their table of names lacks."""


def disagreements(claims: Sequence[Claim]) -> tuple[str, ...]:
    """Return one sentence a contradiction between two layers of one card."""
    found: list[str] = []
    for number, first in enumerate(claims):
        for second in claims[number + 1 :]:
            found.extend(_between(first, second))
    return tuple(found)


def model_numbers(name: str) -> tuple[frozenset[str], ...]:
    """Return what tells a model apart, one set for each model that a name lists.

    `GP104 [GeForce GTX 1070]` gives {1070}; `Ellesmere [Radeon RX 470/480]` gives
    {470} and {480}. Makers, families, memory sizes and `Laptop` are left out.
    """
    name = _ID_FOR_NAME.sub("", name.lower())
    bracket = re.search(r"\[([^\]]+)\]", name)
    parts = re.split(r" ?/ ?", bracket[1] if bracket else name)
    sets = (_telling(part) for part in parts)
    return tuple(each for each in sets if any(char.isdigit() for char in "".join(each)))


def same_model(one: str, other: str) -> bool | None:
    """Tell whether two names can mean one model; None where a name tells nothing."""
    first, second = model_numbers(one), model_numbers(other)
    if not first or not second:
        return None
    if any(each in second for each in first):
        return True
    for family, members in ((one, second), (other, first)):
        if "series" in family.lower().split():
            stems = [
                number.rstrip("0")
                for each in model_numbers(family)
                for number in each
                if number[:1].isdigit()
            ]
            numbers = [number for each in members for number in each]
            if any(number.startswith(stem) for stem in stems for number in numbers):
                return True
    return False


def _telling(part: str) -> frozenset[str]:
    words = re.findall(r"[a-z0-9]+", part)
    return frozenset(
        word
        for word in words
        if word in _KINDS
        or (
            any(char.isdigit() for char in word)
            and word not in _SERIES
            and not _SIZE.fullmatch(word)
            and not _NOT_MODEL.fullmatch(word)
        )
    )


def _between(first: Claim, second: Claim) -> list[str]:
    found = []
    if first.model and second.model and same_model(first.model, second.model) is False:
        found.append(_sentence("the model", first, first.model, second, second.model))
    if _memory_differs(first, second):
        found.append(
            _sentence(
                "the memory",
                first,
                _size(first.memory_bytes),
                second,
                _size(second.memory_bytes),
            )
        )
    for what, one, other in (
        ("the PCI id", first.pci_id, second.pci_id),
        ("the subsystem id", first.subsystem, second.subsystem),
        (
            "the compute capability",
            first.compute_capability,
            second.compute_capability,
        ),
    ):
        if one is not None and other is not None and one != other:
            found.append(_sentence(what, first, one, second, other))
    one_units, other_units = first.compute_units, second.compute_units
    if one_units and other_units and one_units / other_units not in _UNIT_RATIOS:
        found.append(
            _sentence(
                "the compute units", first, str(one_units), second, str(other_units)
            )
        )
    return found


def _memory_differs(first: Claim, second: Claim) -> bool:
    if not first.memory_bytes or not second.memory_bytes:
        return False
    most = max(first.memory_bytes, second.memory_bytes)
    least = min(first.memory_bytes, second.memory_bytes)
    vendors = f"{first.vendor or ''} {second.vendor or ''}".lower()
    allowed = _INTEL_SHORTFALL if "intel" in vendors else _MEMORY_TOLERANCE
    return least < most * (1 - allowed)


def _size(size: int | None) -> str:
    return f"{(size or 0) / 2**30:.2f} GiB"


def _sentence(what: str, first: Claim, one: str, second: Claim, other: str) -> str:
    names = (_WORDS[first.layer], _WORDS[second.layer])
    if first.layer == second.layer:
        names = (first.source, second.source)
    return f"The layers disagree on {what}: {names[0]} says {one}, {names[1]} {other}."
