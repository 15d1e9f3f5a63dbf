"""Consoles of a fixed width that write into memory, for tests of what is shown."""

import io

from rich.console import Console


def console_of(width=80, encoding="utf-8", *, terminal=False, height=40):
    """Return a console without colour; `shown()` is all that it wrote so far.

    It encodes as a real one would, and fails where a real one would.
    """
    file = io.TextIOWrapper(
        io.BytesIO(), encoding=encoding, newline="\n", write_through=True
    )
    console = Console(
        file=file,
        width=width,
        height=height,
        force_terminal=terminal,
        color_system=None,
        highlight=False,
        legacy_windows=False,
    )
    console.shown = lambda: file.buffer.getvalue().decode(encoding)
    return console
