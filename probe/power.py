"""Whether the PC runs on its battery, and what a test may do then.

Laptops hold their graphics back on battery, and a PC whose battery runs out in a test
looks like one that its card brought down. Knows the PC's supply alone: no card, and no
judging of rates.
"""

import sys
from pathlib import Path

from probe.errors import UsageError
from reports.record import Depth

_SUPPLIES = Path("/sys/class/power_supply")
_MAINS = frozenset({"Mains", "USB", "Wireless"})
NOTE = (
    "the PC runs on its battery: the card may be held back and measure low; plug in "
    "the mains adapter for its full rates"
)


def on_battery(supplies: Path = _SUPPLIES) -> bool | None:
    """Return whether the PC runs on its battery; None where that is not known.

    Linux is asked directly (kernel documentation, ABI/testing/sysfs-class-power), as
    psutil takes a mouse's battery for the PC's; elsewhere psutil is asked.
    """
    if sys.platform == "linux":
        return _by_sysfs(supplies)
    return _by_psutil()


def power_note(depth: Depth, *, battery: bool | None, soak: bool = False) -> str | None:
    """Return what to remark of the PC's supply before a test; None where all is well.

    Raises UsageError on battery for a long test: it would drain it.
    """
    if not battery:
        return None
    if soak or depth == "thorough":
        what = "a soak" if soak else "a thorough test"
        raise UsageError(
            f"the PC runs on its battery, which {what} may drain before its end: plug "
            "in the mains adapter, or test with --depth standard"
        )
    return NOTE


def _by_sysfs(supplies: Path) -> bool | None:
    """Judge by every supply of the PC itself; one of a mouse has the scope Device."""
    try:
        every = sorted(supplies.iterdir())
    except OSError:
        return None
    own = [one for one in every if _word(one / "scope") != "Device"]
    kinds = {one: _word(one / "type") for one in own}
    batteries = [one for one in own if kinds[one] == "Battery"]
    mains = [one for one in own if kinds[one] in _MAINS]
    if any(_word(one / "online") not in {"", "0"} for one in mains):
        return False
    pulled = any(kinds[one] == "Mains" and _word(one / "online") == "0" for one in own)
    states = {_word(one / "status") for one in batteries}
    if not states:
        return False if every else None
    if pulled or "Discharging" in states:
        return True
    return False if states & {"Charging", "Full", "Not charging"} else None


def _word(path: Path) -> str:
    try:
        return path.read_bytes()[:64].decode("ascii", "replace").strip()
    except OSError:
        return ""


def _by_psutil() -> bool | None:
    import psutil  # noqa: PLC0415 - start-up

    try:
        battery = psutil.sensors_battery()
    except (OSError, AttributeError, NotImplementedError, RuntimeError, ValueError):
        return None
    plugged = None if battery is None else battery.power_plugged
    return None if plugged is None else not plugged
