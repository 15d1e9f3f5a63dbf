"""Faults in the calls of a whole run: which there are, and one of them carried out.

A point is one call of one kind of run, what becomes of it, and whether a second process
meets the same again. What has to be true afterwards is `survived.py`'s.
"""

import os
import shutil
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import counterfeit
from watching import Ended, Place

MIB = 2**20
REAL = 64 * MIB
WRAPPED = 32 * MIB
Fault = Literal["code", "hang", "kill", "garbage"]
Mode = Literal["once", "always"]
FAULTS: tuple[Fault, ...] = ("code", "hang", "kill", "garbage")
MODES: tuple[Mode, ...] = ("once", "always")

# CL/cl.h, CL/cl_ext.h; the last is what NVIDIA's driver gives for an illegal access
CODES = (-5, -4, -6, -36, -1, -2, -14, -34, -11, -30, -59, -1001, -9999)


@dataclass(frozen=True)
class Scenario:
    """One kind of run: what the device is, and what is asked of the program."""

    options: tuple[str, ...]
    lies: dict[str, object]
    real: int
    """Bytes that are really there."""

    @property
    def honest(self) -> bool:
        return self.lies.get("kind", "honest") == "honest"


SCENARIOS = {
    "quick": Scenario(("--depth", "quick"), {"device_type": "gpu", "real": REAL}, REAL),
    "standard": Scenario(
        ("--depth", "standard"), {"device_type": "gpu", "real": REAL}, REAL
    ),
    "wrap": Scenario(
        ("--depth", "quick"),
        {"device_type": "gpu", "kind": "wrap", "real": WRAPPED, "claim": REAL},
        WRAPPED,
    ),
    "cpu": Scenario(
        ("--depth", "quick", "--card", "cpu", "--memory-limit", "64MiB"), {}, REAL
    ),
}


@dataclass(frozen=True, order=True)
class Point:
    """One fault. Written `quick:137:hang:once`."""

    scenario: str
    call: int
    fault: Fault
    mode: Mode

    def __str__(self) -> str:
        return f"{self.scenario}:{self.call}:{self.fault}:{self.mode}"

    @classmethod
    def parse(cls, text: str) -> "Point":
        scenario, call, fault, mode = text.split(":")
        if scenario not in SCENARIOS or fault not in FAULTS or mode not in MODES:
            raise ValueError(f"no point: {text}; one is quick:137:hang:once")
        return cls(scenario, int(call), fault, mode)  # type: ignore[arg-type]

    @property
    def code(self) -> int:
        return CODES[self.call % len(CODES)]


@dataclass(frozen=True, kw_only=True)
class Struck:
    """What came of a point."""

    point: Point
    names: tuple[str, ...]
    """Of the calls that were struck, one a process."""
    ended: Ended
    record: bytes | None
    """The stored record; None where there is none."""


def whole(layer: Path, folder: Path, scenario: str) -> tuple[int, Ended, bytes]:
    """Run without a fault; return how many calls it made, its end and its record."""
    tally = folder / "tally"
    place = Place(folder / "run")
    ended = _run(place, layer, scenario, patience=10.0, tally=tally)
    calls = int(tally.read_text().split()[0])
    return calls, ended, (place.out / "record.json").read_bytes()


def strike(layer: Path, folder: Path, point: Point) -> Struck:
    """Carry a point out in `folder`, which is removed afterwards."""
    marker = folder / "struck"
    place = Place(folder / "run")
    fault = point.code if point.fault == "code" else point.fault
    ended = _run(
        place,
        layer,
        point.scenario,
        patience=1.5 if point.fault == "hang" else 4.0,
        fault=(point.call, fault),
        struck=marker,
        once=point.mode == "once",
    )
    stored = place.out / "record.json"
    struck = Struck(
        point=point,
        names=tuple(marker.read_text().split()) if marker.exists() else (),
        ended=ended,
        record=stored.read_bytes() if stored.exists() else None,
    )
    shutil.rmtree(folder)
    return struck


def _run(
    place: Place, layer: Path, scenario: str, *, patience: float, **lies: object
) -> Ended:
    what = SCENARIOS[scenario]
    environment = counterfeit.environment(layer, **{**what.lies, **lies})  # type: ignore[arg-type]
    return place.run(
        *what.options,
        *("--yes", "--json", "--out", str(place.out), "--patience", f"{patience:g}"),
        environment=environment,
    )


def spread(
    scenario: str, calls: Iterable[int], modes: Sequence[Mode] = MODES
) -> list[Point]:
    """Return every fault at these calls; modes take turns."""
    return [
        Point(scenario, call, fault, modes[(number + place) % len(modes)])
        for number, call in enumerate(calls)
        for place, fault in enumerate(FAULTS)
    ]


def evenly(calls: int, count: int, first: int = 1) -> list[int]:
    """Return `count` calls out of `calls`, evenly from `first` to the last."""
    if count < 2:  # one, or none
        return [first][:count]
    step = (calls - first) / (count - 1)
    return sorted({first + round(number * step) for number in range(count)})


def hidden() -> None:
    """See that no counterfeit of the surroundings is inherited by a run."""
    for key in tuple(os.environ):
        if key.startswith(("OPENCL_LAYERS", "COUNTERFEIT_")):
            del os.environ[key]
