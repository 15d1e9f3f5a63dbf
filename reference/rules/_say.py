"""How rules word things: one finding, an article, a list. Nothing is judged here."""

import re
from collections.abc import Iterable

from reports.record import Bearing, Candidate, Claim, Finding, Strength
from reports.units import gib

_LIMIT = 1000
_MOSTLY = 0.90
"""From this share on the likeliest of several chips is named alone."""
_SPELT_OUT = re.compile(
    r"(?:[AEFHILMNORSX](?:[A-Z]{0,3}|[A-Z]*[0-9][A-Z0-9]*)|NVIDIA|1[18])\b|8"
)
"""Letters or figures whose names begin with a vowel; a longer word in capitals is a
word: an RX 580, an 8800 GT, a RADEON."""


def find(
    rule: str,
    strength: Strength,
    bearing: Bearing,
    *,
    sentence: str,
    claim: str = "",
    measured: str = "",
    envelope: str = "",
    sources: Iterable[str] = (),
) -> Finding:
    """Return a finding."""
    return Finding(
        rule=rule,
        strength=strength,
        bearing=bearing,
        claim=claim[:_LIMIT],
        measured=measured[:_LIMIT],
        envelope=envelope[:_LIMIT],
        sentence=sentence[: 2 * _LIMIT],
        sources=tuple(sources),
    )


def a(model: str) -> str:
    """Return the model with its article: `a GeForce GTX 1070`, `an RX 580`."""
    vowel = model[:1] in set("AEIOU") or bool(_SPELT_OUT.match(model))
    return f"an {model}" if vowel else f"a {model}"


def either(words: Iterable[str], limit: int = 6) -> str:
    """Return `a, b or c`; a long list is cut."""
    words = list(words)
    if len(words) > limit:
        words = [*words[:limit], "others"]
    if len(words) < 2:  # noqa: PLR2004 - nothing to join
        return "".join(words)
    return f"{', '.join(words[:-1])} or {words[-1]}"


def counted(number: int, word: str) -> str:
    """Return `1 variant`, `2 variants`."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def layer(claim: Claim) -> str:
    """Return who speaks in a claim, as the start of a sentence."""
    return {"opencl": "OpenCL", "nvml": "NVML", "pci": "The PCI bus"}.get(
        claim.layer, "The driver"
    )


def within(claim: Claim) -> str:
    """Return who speaks in a claim, behind the start of a sentence."""
    return layer(claim).replace("The ", "the ")


def chip_names(one: Candidate) -> str:
    """Return `GK107`, or `GF104 or GF114` where nothing tells them apart."""
    if one.alone >= _MOSTLY * one.probability:
        return one.chip
    return either([one.chip, *one.twins], 3)


def sizes(sizes_bytes: Iterable[int]) -> str:
    """Return `2.00 or 4.00 GiB`."""
    told = [gib(size) for size in sorted(sizes_bytes)]
    unit = told[-1].partition(" ")[2] if told else ""
    short = [one.removesuffix(f" {unit}") for one in told[:-1]]
    return either([*short, *told[-1:]])


def named(one: Candidate) -> str:
    """Return `GK107 with 384 lanes and 2.00 GiB`, without what is not sure."""
    parts = []
    if len(one.lanes) == 1:
        parts.append(f"{one.lanes[0]} lanes")
    if len(one.memory_bytes) <= 2:  # noqa: PLR2004 - `2.00 or 4.00 GiB`
        parts.append(sizes(one.memory_bytes))
    chips = chip_names(one)
    return f"{chips} with {' and '.join(parts)}" if parts else chips
