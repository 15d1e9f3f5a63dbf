"""A recording: what a program had a card do, in order, so that it can be done again.

Values, and how they are kept in a folder: `recording.json`, `contents/` (what was
copied up, each content once) and `programs/` (the driver's PTX). Knows no device.
"""

import hashlib
import re
from collections import Counter
from pathlib import Path

import msgspec
from msgspec import Struct

KERNELS = Path(__file__).resolve().parents[2] / "probe" / "kernels"
_KERNEL = re.compile(r"__kernel\b[^{;]*?\bvoid\s+(\w+)\s*\(")


class Made(Struct, frozen=True, tag="made"):
    """A buffer was made; numbers are never used again."""

    buffer: int
    size_bytes: int


class Dropped(Struct, frozen=True, tag="dropped"):
    buffer: int


class Put(Struct, frozen=True, tag="put"):
    """Copied from the PC to the card."""

    buffer: int
    offset: int
    content: str


class Got(Struct, frozen=True, tag="got"):
    """Copied from the card to the PC, and the name of what came."""

    buffer: int
    offset: int
    size_bytes: int
    content: str


class Moved(Struct, frozen=True, tag="moved"):
    """Copied on the card."""

    to: int
    to_offset: int
    source: int
    source_offset: int
    size_bytes: int


class Whole(Struct, frozen=True, tag="buffer"):
    buffer: int


class Scalar(Struct, frozen=True, tag="scalar"):
    kind: str
    """numpy's name of the type."""
    value: bytes


class Local(Struct, frozen=True, tag="local"):
    size_bytes: int


class Launched(Struct, frozen=True, tag="launched"):
    program: str
    kernel: str
    arguments: tuple[Whole | Scalar | Local, ...]
    items: tuple[int, ...]
    group: tuple[int, ...]


Event = Made | Dropped | Put | Got | Moved | Launched


class Fault(Struct, frozen=True):
    """A fault planted into a copy of a kernel: what one tool has to report."""

    tool: str
    what: str
    replaces: str
    """The program whose place it takes."""
    program: str
    kernels: tuple[str, ...]
    """Those launched; with the first launch of the last the replay ends."""
    said: str
    """What the tool's report has to hold, a regular expression."""


class Recording(Struct, frozen=True):
    device: str
    driver: str
    events: tuple[Event, ...]
    left_out: dict[str, str]
    """Workloads that the card could not be given, and why."""
    faults: tuple[Fault, ...] = ()

    def launches(self) -> Counter[str]:
        """Count the launches of each kernel."""
        return Counter(e.kernel for e in self.events if isinstance(e, Launched))

    def missing(self) -> tuple[dict[str, str], list[str]]:
        """Return the kernels that were not launched: with a reason, and without."""
        absent = sorted(kernels() - self.launches().keys())
        excused = {k: self.left_out[k] for k in absent if k in self.left_out}
        return excused, [k for k in absent if k not in excused]


def kernels(folder: Path = KERNELS) -> set[str]:
    """Return the names of all kernels that the program has."""
    found = [_KERNEL.findall(file.read_text("utf-8")) for file in folder.glob("*.cl")]
    assert all(found), "a kernel file without kernels"
    return {name for names in found for name in names}


def name_of(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:32]


class Folder:
    """Where a recording is kept."""

    def __init__(self, path: Path) -> None:
        self.path = path
        for name in ("contents", "programs"):
            (path / name).mkdir(parents=True, exist_ok=True)

    def keep(self, content: bytes) -> str:
        """Keep a content; return its name."""
        file = self.path / "contents" / (name := name_of(content))
        if not file.exists():
            file.write_bytes(content)
        return name

    def content(self, name: str) -> bytes:
        return (self.path / "contents" / name).read_bytes()

    def keep_program(self, binary: bytes) -> str:
        name = name_of(binary)
        (self.path / "programs" / f"{name}.ptx").write_bytes(binary)
        return name

    def program(self, name: str) -> bytes:
        return (self.path / "programs" / f"{name}.ptx").read_bytes()

    def write(self, recording: Recording) -> None:
        encoded = msgspec.json.encode(recording)
        (self.path / "recording.json").write_bytes(encoded)

    def read(self) -> Recording:
        encoded = (self.path / "recording.json").read_bytes()
        return msgspec.json.decode(encoded, type=Recording)
