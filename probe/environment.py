"""The PC, as far as a record may tell of it: nothing that names its owner."""

import platform
from datetime import UTC, datetime

from probe.power import on_battery
from reports.record import Host
from reports.text import plain


def host() -> Host:
    """Return system, processor family, Python, memory size and supply."""
    return Host(
        system=plain(platform.system()) or "unknown",
        release=plain(platform.release()) or "unknown",
        machine=plain(platform.machine()) or "unknown",
        python=platform.python_version(),
        memory_bytes=_memory("total"),
        on_battery=on_battery(),
    )


def available_bytes() -> int | None:
    """Return the PC's memory that could be used at once; None where not known."""
    return _memory("available")


def now_utc() -> str:
    """Return the time as ISO 8601 in UTC, to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def _memory(which: str) -> int | None:
    import psutil  # noqa: PLC0415 - start-up

    try:
        return int(getattr(psutil.virtual_memory(), which))
    except (OSError, AttributeError, ValueError):
        return None
