"""Every rate, before and after: better, worse, or the noise of two runs.

Two runs of one card never give the same figures. Measured on one H100 in five runs:
arithmetic within 0.5 %, memory 1.2 %, the link 4.2 %. Consumer cards raise their
clocks a few percent more or less as they are warm. So a rate has changed only beyond a
band, widened by the spread of both records' own samples; and it got worse only where
neither heat, power, another program nor the clock explains it. An honest firmware may
well set lower clocks than the one before.
"""

import re
from collections.abc import Iterator
from statistics import median

from reference.causes import Cause, causes, crowded, is_memory, lowest_share
from reference.repaired import clocks
from reference.repaired.rows import by_presence, counted
from reference.repaired.view import View
from reference.rules.rates import SLACK
from reports.compared.value import Became, Row
from reports.record import Rate
from reports.units import percent, quantity
from reports.words import RATE

BAND = 0.05
"""Share by which a rate differs between two runs without a meaning."""
LINK_BAND = 0.15
"""The same of the host link: another slot or another PC is enough."""
MOST_SPREAD = 0.25
"""Samples that spread wider than that widen the band no further."""
HELD_BAND = 256 * 2**20
"""Bytes by which what others hold of the memory differs without a meaning: drivers
keep as much for themselves, of a small card as of a large one."""
_MOST = 1e12
_LINK = ("link_up", "link_down")


def rate_rows(before: View, after: View) -> Iterator[Row]:
    """Return a row for each rate that either record has, then the wrong results."""
    for name, title in RATE.items():
        old, new = before.case.rates.get(name), after.case.rates.get(name)
        values = [one.value if one else None for one in (old, new)]
        if values != [None, None]:
            yield _rate(before, after, title, (old, new))
    wrong = _wrong(before), _wrong(after)
    if any(wrong):
        yield counted("rates", "Wrong results", wrong, "better")


def band_of(old: Rate, new: Rate) -> float:
    """Return by which share these two rates may differ without a meaning."""
    least = LINK_BAND if old.name in _LINK else BAND
    return max(least, min(_spread(old) + _spread(new), MOST_SPREAD))


def _rate(
    before: View, after: View, title: str, pair: tuple[Rate | None, Rate | None]
) -> Row:
    old, new = pair
    texts = [
        quantity(one.value, one.unit) if one and one.value is not None else None
        for one in pair
    ]
    became, note = by_presence(*texts), ""
    if old and new and old.value and new.value:
        became, note = _moved(before, after, old, new)
    elif None in texts:
        absent = old if texts[0] is None else new
        note = (absent.missing or "") if absent else ""
    return Row(
        part="rates",
        title=title,
        before=texts[0],
        after=texts[1],
        became=became,
        note=note,
    )


def _moved(before: View, after: View, old: Rate, new: Rate) -> tuple[Became, str]:
    """Return what became of a rate that both records have, and why."""
    ratio = _over(new.value or 0.0, old.value or 1.0)
    band = band_of(old, new)
    if abs(ratio - 1) <= band:
        return "unchanged", ""
    seen = _causes((after, new), (before, old))
    if ratio > 1:
        seen = _causes((before, old), (after, new))
    if seen and _explain(seen, min(ratio, 1 / ratio)):
        when = "After" if ratio < 1 else "Before"
        told = "; ".join(cause.said for cause in seen)
        return "changed", f"{when} the repair, {told}."
    if old.name in _LINK:
        return "changed", "Another slot, or another PC, is enough."
    domain: clocks.Domain = "memory" if is_memory(old) else "core"
    found = clocks.ends(before, after, old.name, domain)
    if found and abs(ratio / _over(found[1], found[0]) - 1) <= band:
        return "changed", clocks.note(domain, found)
    share = percent(abs(ratio - 1), 1.0)
    if ratio > 1:
        return "better", f"By {share}." if ratio < 2 else ""  # noqa: PLR2004 - twice
    return "got worse", f"By {share}, and nothing that was read says why."


def _over(new: float, old: float) -> float:
    """Return the one over the other, which is above zero, within what is worth telling.

    A record may hold figures that no card has.
    """
    return min(max(new / old, 1 / _MOST), _MOST)


def _causes(slower: tuple[View, Rate], faster: tuple[View, Rate]) -> tuple[Cause, ...]:
    """Return what slowed the one; what was there beside the other explains nothing."""
    both = {_kind(one) for one in causes(faster[0].case, faster[1])}
    seen = causes(slower[0].case, slower[1])
    if _held(slower[0]) - _held(faster[0]) <= HELD_BAND:
        both |= {_kind(one) for one in crowded(slower[0].case)}
    return tuple(one for one in seen if _kind(one) not in both)


def _held(view: View) -> int:
    """Return how much of the memory others held before the test, bytes."""
    proof = view.own.capacity
    if proof is None or proof.free_bytes is None:
        return 0
    return proof.claimed_bytes - proof.free_bytes


def _kind(cause: Cause) -> str:
    """Return a cause without its figures."""
    return re.split(r"[\d(]", cause.said, maxsplit=1)[0]


def _explain(seen: tuple[Cause, ...], ratio: float) -> bool:
    """Whether what was seen explains so low a share of the other rate."""
    share = lowest_share(seen)
    unknown = any(one.share is None for one in seen)
    return unknown or (share is not None and ratio >= SLACK * share)


def _spread(rate: Rate) -> float:
    """Return the spread of a rate's samples, over their median."""
    times = [one for one in rate.sample_seconds if one > 0]
    return (max(times) - min(times)) / median(times) if times else 0.0


def _wrong(view: View) -> int | None:
    checked = [one for one in view.own.rates if one.checked]
    return sum(one.wrong for one in checked) if checked else None
