"""What cut a test off, in the few lines that every rendering shows.

Words alone, clean and for people; whether it counts against a card is the judge's.
"""

from reports import words
from reports.lasting import Incident
from reports.text import plain
from reports.units import gib

SHOWN = 8
"""Kinds of end that are told one by one."""
_TITLE, _DETAIL = 200, 300
_TIMES = {1: "", 2: ", twice"}


def lines_of(incidents: tuple[Incident, ...]) -> tuple[str, ...]:
    """Return a line for each way in which a test was cut off, in order of time.

    What came again at the same place in the same way is told once, with how often.
    """
    told: dict[tuple[object, ...], list[Incident]] = {}
    for one in incidents:
        told.setdefault((one.kind, one.doing, one.at_bytes), []).append(one)
    lines = [_line(alike) for alike in list(told.values())[:SHOWN]]
    left = len(told) - len(lines)
    if left:
        lines.append(f"{left} further times, elsewhere or in another way.")
    return tuple(lines)


def _line(alike: list[Incident]) -> str:
    first = alike[0]
    place = "" if first.at_bytes is None else f" at {gib(first.at_bytes)}"
    count = len(alike)
    often = _TIMES.get(count, f", {count} times")
    why = f" ({plain(first.detail, _DETAIL)})" if first.detail else ""
    doing = plain(first.doing, _TITLE) or "Unnamed"
    return f"{doing}{place}: {words.INCIDENT[first.kind]}{often}{why}."
