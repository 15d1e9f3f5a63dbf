"""Where the program keeps what outlives a run: its state folder.

Knows the place alone: what lies in it is the business of whoever puts it there. A PC
without such a place is no error: everything kept there can be done without.
"""

import os
import sys
from contextlib import suppress
from pathlib import Path

NAME = "cardassay"


def state_folder() -> Path | None:
    """Return the folder, made if need be; None where there is none to be written in.

    XDG base directory specification 0.8: `$XDG_STATE_HOME` counts only where it is an
    absolute path, else `~/.local/state`. On Windows `%LOCALAPPDATA%`.
    """
    above = _above()
    if above is None:
        return None
    folder = above / NAME
    with suppress(OSError, ValueError):
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if os.access(folder, os.W_OK | os.X_OK):
            return folder
    return None


def _above() -> Path | None:
    windows = sys.platform == "win32"
    named = os.environ.get("LOCALAPPDATA" if windows else "XDG_STATE_HOME")
    if named and Path(named).is_absolute():
        return Path(named)
    try:
        home = Path.home()
    except RuntimeError:
        return None
    return home / "AppData" / "Local" if windows else home / ".local" / "state"
