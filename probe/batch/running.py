"""One check in a process of its own: started, heard, stopped in order.

The process is `cardassay check --events`. What it tells is for the eye; what came of it
lies in its folder. Judges nothing.
"""

import contextlib
import os
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Protocol

import msgspec

import probe
from probe.events import Event
from reports.text import plain

LINE_LIMIT = 2**20
MOST_SAID = 20
"""Lines kept of what a check said beside its events."""
_SAID = 2000
_PREFIX = "cardassay: "
Hear = Callable[[Event], None]
_decoder = msgspec.json.Decoder(Event)
_NONSENSE = (msgspec.MsgspecError, UnicodeDecodeError, RecursionError)


@dataclass(frozen=True, kw_only=True)
class Job:
    """What one check is to do."""

    number: str
    folder: Path
    arguments: tuple[str, ...]
    """Of `check`, without where the documents go."""


@dataclass(frozen=True, kw_only=True)
class Over:
    """How a check ended."""

    code: int
    said: tuple[str, ...] = ()
    """What it said beside its events, a line each."""


class Run(Protocol):
    """A check under way."""

    def wait(self) -> Over:
        """Wait for its end. Called once, in a thread of its own."""

    def stop(self) -> None:
        """Have it end in order, as Ctrl-C does."""

    def kill(self) -> None:
        """End it at once; its journal tells how far it came."""


class Start(Protocol):
    """Starts checks."""

    def __call__(self, job: Job, hear: Hear) -> Run:
        """Start one; `hear` is called from another thread. Raises OSError."""


class Check:
    """See `Run`."""

    def __init__(self, job: Job, hear: Hear) -> None:
        self._hear = hear
        self._said: deque[str] = deque(maxlen=MOST_SAID)
        self._process = subprocess.Popen(  # noqa: S603 - a program of ours, no shell
            [
                *(sys.executable, "-P", "-c"),
                "import sys; from probe.cli import main; sys.exit(main())",
                *("check", "--yes", "--events", f"--out={job.folder}"),
                *job.arguments,
            ],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env=_environment(),
            start_new_session=os.name == "posix",  # Ctrl-C comes through us alone
            creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
        )

    def wait(self) -> Over:
        """See `Run`."""
        process = self._process
        assert process.stdout is not None
        assert process.stderr is not None
        beside = threading.Thread(target=self._collect, args=(process.stderr,))
        beside.start()
        with process.stdout as lines, contextlib.suppress(OSError, ValueError):
            while line := lines.readline(LINE_LIMIT):
                with contextlib.suppress(*_NONSENSE):
                    self._hear(_decoder.decode(line))
        beside.join()
        code = process.wait()
        self.stop()
        return Over(code=code, said=tuple(self._said))

    def stop(self) -> None:
        """See `Run`."""
        with contextlib.suppress(OSError, ValueError):
            if self._process.stdin is not None:
                self._process.stdin.close()

    def kill(self) -> None:
        """See `Run`."""
        with contextlib.suppress(OSError):
            self._process.kill()

    def _collect(self, stream: IO[bytes]) -> None:
        with stream, contextlib.suppress(OSError, ValueError):
            while line := stream.readline(LINE_LIMIT):
                text = plain(line.decode("utf-8", "replace"), _SAID)
                if text:
                    self._said.append(text.removeprefix(_PREFIX))


def _environment() -> dict[str, str]:
    """Return ours, with the place that this program itself was found at."""
    place = str(Path(probe.__file__).resolve().parents[1])
    paths = [place, *filter(None, [os.environ.get("PYTHONPATH")])]
    return os.environ | {
        "PYTHONPATH": os.pathsep.join(paths),
        "PYTHONIOENCODING": "utf-8",
    }
