"""One run of the program in a place of its own, and what it left behind.

Starts it, ends it or interrupts it if asked, and looks afterwards: what it said, which
files are there, which of its processes still are. Knows nothing of faults and judges
nothing: that is `survived.py`'s.
"""

import os
import resource
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

ROOT = Path(__file__).parent.parent.parent
TOKEN = "SURVIVAL_TOKEN"
GONE_SECONDS = 2.0
"""Within so long every process has to be gone with the one that started it."""
LONGEST_SECONDS = 120.0
MOST_MEMORY = 6 * 2**30
"""Address space of a process: garbage for a size must not cost the PC its memory."""
_LOOK = 0.002


@dataclass(frozen=True, kw_only=True)
class Ended:
    """What came of a run."""

    code: int
    out: bytes
    err: str
    seconds: float
    left_running: tuple[str, ...]
    """Command lines of processes that outlived it."""
    files: tuple[str, ...]
    """What lies in its place afterwards, by its path in it."""
    outlasted: bool
    """Whether it had to be ended, having run for LONGEST_SECONDS."""


class Place:
    """A folder in which a program runs as if it were alone in the PC."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.out = path / "out"
        for name in ("tmp", "state", "home"):
            (path / name).mkdir(parents=True, exist_ok=True)

    @property
    def journal(self) -> Path:
        return self.out / "journal.txt"

    def environment(self, given: Mapping[str, str]) -> dict[str, str]:
        kernels = Path(tempfile.gettempdir()) / "cardassay-pocl"
        return {
            "POCL_CACHE_DIR": str(kernels),  # where the test command names none
            **given,
            "XDG_STATE_HOME": str(self.path / "state"),
            "XDG_CACHE_HOME": str(self.path / "home"),
            "TMPDIR": str(self.path / "tmp"),
            "PYTHONFAULTHANDLER": "",
            TOKEN: uuid4().hex,
        }

    def run(
        self,
        *options: str,
        environment: Mapping[str, str],
        meanwhile: Callable[[subprocess.Popen[bytes]], None] | None = None,
    ) -> Ended:
        """Run `cardassay check` with these options; `meanwhile` may strike it."""
        settings = self.environment(environment)
        began = time.perf_counter()
        with subprocess.Popen(
            [sys.executable, "-m", "probe", "check", *options],
            cwd=ROOT,
            env=settings,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            start_new_session=True,
            preexec_fn=_bound,  # noqa: PLW1509 - it calls nothing that could block
        ) as process:
            if meanwhile is not None:
                meanwhile(process)
            outlasted = False
            try:
                out, err = process.communicate(timeout=LONGEST_SECONDS)
            except subprocess.TimeoutExpired:
                outlasted = True
                process.kill()
                out, err = process.communicate()
        seconds = time.perf_counter() - began
        return Ended(
            code=process.returncode,
            out=out,
            err=err.decode("utf-8", "replace"),
            seconds=seconds,
            left_running=left_running(settings[TOKEN]),
            files=self.files(),
            outlasted=outlasted,
        )

    def files(self) -> tuple[str, ...]:
        return tuple(
            sorted(
                str(one.relative_to(self.path))
                for one in self.path.rglob("*")
                if not one.is_dir()
            )
        )


def left_running(token: str) -> tuple[str, ...]:
    """Return the processes of a run that are still there; waits for them to go."""
    until = time.perf_counter() + GONE_SECONDS
    while True:
        found = processes(token)
        if not found:
            return ()
        if time.perf_counter() > until:
            for pid in found:
                os.kill(pid, signal.SIGKILL)
            return tuple(found.values())
        time.sleep(0.02)


def processes(token: str) -> dict[int, str]:
    """Return which processes were started with a token, and what they are."""
    mark = f"{TOKEN}={token}".encode()
    found = {}
    for one in Path("/proc").iterdir():
        if not one.name.isdigit():
            continue
        try:
            if mark in (one / "environ").read_bytes():
                line = (one / "cmdline").read_bytes()
                found[int(one.name)] = line.replace(b"\0", b" ").decode()[:200]
        except OSError:
            continue
    return found


def after_journal(
    place: Place, seconds: float, strike: Callable[[subprocess.Popen[bytes]], None]
) -> Callable[[subprocess.Popen[bytes]], None]:
    """Return what strikes a run so many seconds after its journal was begun."""

    def meanwhile(process: subprocess.Popen[bytes]) -> None:
        while process.poll() is None:
            if place.journal.exists() and place.journal.stat().st_size:
                break
            time.sleep(_LOOK)
        time.sleep(seconds)
        if process.poll() is None:
            strike(process)

    return meanwhile


def after_start(
    place: Place, seconds: float, strike: Callable[[subprocess.Popen[bytes]], None]
) -> Callable[[subprocess.Popen[bytes]], None]:
    """Return what strikes a run so many seconds after it has a process of its own."""

    def meanwhile(process: subprocess.Popen[bytes]) -> None:
        children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
        while process.poll() is None and not children.read_bytes():
            time.sleep(_LOOK)
        time.sleep(seconds)
        if process.poll() is None:
            strike(process)

    return meanwhile


def kill(process: subprocess.Popen[bytes]) -> None:
    """End the program as the system does that runs out of memory."""
    process.kill()


def interrupt(process: subprocess.Popen[bytes]) -> None:
    """Press Ctrl-C: the terminal tells the whole group."""
    os.killpg(process.pid, signal.SIGINT)


def _bound() -> None:
    signal.signal(signal.SIGINT, signal.SIG_DFL)  # else a bench in the background's
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
