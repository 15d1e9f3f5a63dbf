"""How answers on uses are worded: figures held against thresholds, in plain words.

Words alone; the answers are given to it.
"""

from typing import Final

from reference.use_figures import Figures, Quantity
from reference.use_needs import GB, TRAINED, Level, Work
from reports.units import RATE_UNITS, gib, quantity, significant
from reports.uses import Answer

NO_CARD: Final = "What was tested is no graphics card."
NO_SOCKET: Final = "It has no socket for a display."
SHARED: Final = "Its memory is the PC's own, shared with all programs."
OLD_CHIP: Final = "Current versions of the renderer cited do not compute on its chip."
CHIP_UNKNOWN: Final = "Whether current renderers take its chip is not known."
WIDE: Final = "Whether its sockets carry so large a picture was not tested."
IF_SOCKET: Final = "if it has a socket for a display, which nobody looked at"

_FOUND: Final[dict[Quantity, str]] = {
    "memory": "of proven memory",
    "memory_read": "read from memory",
    "fp32": "in single precision",
    "fp64": "in double precision",
    "link_up": "over the link to the card",
}
_NAMES: Final[dict[Quantity, str]] = {
    "memory": "memory",
    "memory_read": "speed of memory",
    "fp32": "single precision",
    "fp64": "double precision",
    "link_up": "link to the card",
}
_MEGA: Final = 1e6


def told(answers: dict[Level, Answer], figures: Figures, answer: Answer) -> str:
    """Return the figures that give the answer, without the full stop.

    Where none of them gives it, they are all ample and something else limits.
    """
    own = [level for level, given in answers.items() if given == answer]
    if answer == "no":
        return _joined("Too little", own, figures, "where at least {} are needed")
    if answer == "not measured":
        return "Not measured: " + ", ".join(_unknown(one, figures) for one in own)
    if answer == "with limits" and own:
        return _joined("Scant", own, figures, "where {} are ample")
    return _joined("Ample", list(answers), figures, "")


def _joined(start: str, levels: list[Level], figures: Figures, rest: str) -> str:
    if not levels:
        return ""
    least = "{}" in rest and "least" in rest
    parts = []
    for level in levels:
        size = _size(level.of, (level.least or 0.0) if least else level.full)
        parts.append(f"{_figure(level.of, figures)} {rest.format(size)}".rstrip())
    return f"{start}: {', '.join(parts)}"


def _figure(of: Quantity, figures: Figures) -> str:
    if of == "memory":
        return f"{gib(figures.proven_bytes or 0)} {_FOUND[of]}"
    return f"{quantity(figures.rates.get(of, 0.0), RATE_UNITS[of])} {_FOUND[of]}"


def _unknown(level: Level, figures: Figures) -> str:
    if level.of != "memory" or figures.proven_bytes is None:
        return _NAMES[level.of]
    return f"memory beyond the {gib(figures.proven_bytes)} that are proven"


def _size(of: Quantity, value: float) -> str:
    """Return a threshold as published: sizes in GB of 10^9 bytes."""
    if of != "memory":
        return quantity(value, RATE_UNITS[of])
    if value >= GB:
        return f"{value / GB:.3g} GB"
    return f"{value / _MEGA:.3g} MB"


def further(work: Work, figures: Figures) -> tuple[str, ...]:
    """Return what follows from the figures beside the answer, a sentence each."""
    read = figures.rates.get("memory_read")
    if work.weights and read:
        most = significant(read / work.weights)
        return (f"The speed of its memory allows {most} tokens a second at most.",)
    if work.further == "weights" and figures.proven_bytes:
        most = significant(figures.proven_bytes / TRAINED / GB)
        return (f"At most {most} billion weights fit.",)
    single, double = figures.rates.get("fp32"), figures.rates.get("fp64")
    if work.further == "ratio" and single and double:
        return (f"Single precision is {significant(single / double)} times as fast.",)
    return ()
