"""Makes the compiled table anew: `python -m reference.compile`. Writes one file.

To be run, and its result committed, after every change under `reference/data`.
"""

import sys
from pathlib import Path

from reference import compiled, gather
from reference.errors import TableError
from reference.table import DATA


def write(data: Path = DATA) -> Path:
    """Write the compiled form of the TOML files under `data`; return its path.

    Raises TableError with every mistake of every file, OSError.
    """
    path = data / compiled.NAME
    path.write_bytes(compiled.pack(gather.gather(gather.sources(data))))
    return path


def main() -> int:
    """Write, and say what was written or what stands in the way."""
    try:
        path = write()
    except (TableError, OSError) as error:
        sys.stderr.write(f"{error}\n")
        return 1
    sys.stdout.write(f"{path}: {path.stat().st_size} bytes\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
