"""What a soak has found so far, put together launch by launch and block by block.

Pure: is told what happened and when, asks no device and no clock. `soak()` is valid at
any moment. Holds no opinion on what the finds mean (`reference/`).
"""

from collections import Counter
from dataclasses import dataclass, field
from statistics import median
from typing import Literal

from probe.device import CELL_BYTES, Block, Burst, Census, Workload
from reports.counts import CellCounts, Flips
from reports.lasting import MOST_POINTS, MOST_SPOTS, Soak, SoakPoint, SoakTest, Spot
from reports.record import Sample

KINDS = ("intact", "mirrored", "hollow", "failing", "scrambled")


@dataclass
class _Place:
    """One place that was found wrong, as it is found wrong again and again."""

    kind: Literal["results", "memory"]
    test: str
    first: float
    temperature_c: float | None
    core_mhz: float | None
    group: int | None = None
    block: Block | None = None
    last: float = 0.0
    times: int = 0
    wrong: int = 0
    scrambled: int = 0
    cells: list[int] = field(default_factory=list)
    """Card-wide numbers of the outermost cells found wrong."""
    any_flips: tuple[int, int, int, int] | None = None
    all_flips: tuple[int, int, int, int] = (0, 0, 0, 0)

    def again(self, at: float, wrong: int) -> None:
        self.last = at
        self.times += 1
        self.wrong += wrong

    def read(self, block: Block, census: Census) -> None:
        """Take in where the wrong cells of one reading lie, and which bits flipped."""
        told = [
            one for one in (census.first_wrong, census.last_wrong) if one is not None
        ]
        self.cells = [*self.cells, *(block.first_cell + one for one in told)]
        self.cells = [min(self.cells), max(self.cells)] if self.cells else []
        self.scrambled += census.scrambled
        if not census.failing:
            return
        if self.any_flips is None:
            self.any_flips, self.all_flips = census.any_flips, census.all_flips
            return
        a, b, c, d = map(int.__or__, self.any_flips, census.any_flips)
        self.any_flips = (a, b, c, d)
        a, b, c, d = map(int.__and__, self.all_flips, census.all_flips)
        self.all_flips = (a, b, c, d)

    def spot(self) -> Spot:
        first, last = (cell * CELL_BYTES for cell in self.cells or (0, 0))
        flips = None
        if self.any_flips is not None and self.cells:
            flips = Flips(
                any_mask=self.any_flips,
                all_mask=self.all_flips,
                first_byte=first,
                last_byte=last,
            )
        return Spot(
            kind=self.kind,
            test=self.test,
            at_seconds=self.first,
            last_seconds=self.last,
            times=self.times,
            wrong=self.wrong,
            group=self.group,
            block_bytes=self.block.first_cell * CELL_BYTES if self.block else None,
            scrambled=self.scrambled,
            first_byte=first if self.cells else None,
            last_byte=last if self.cells else None,
            flips=flips,
            temperature_c=self.temperature_c,
            core_mhz=self.core_mhz,
        )


@dataclass
class Finds:
    """What was found until now. Times are seconds since the soak began."""

    asked_seconds: float
    seconds: float = 0.0
    steps: int = 0
    held_bytes: int = 0
    passes: int = 0
    stopped_by: str | None = None
    sample: Sample | None = None
    """The latest reading of the sensors."""
    _launches: Counter[str] = field(default_factory=Counter)
    _checked: Counter[str] = field(default_factory=Counter)
    _wrong: Counter[str] = field(default_factory=Counter)
    _cells: Counter[str] = field(default_factory=Counter)
    _places: dict[tuple[str, int | None], _Place] = field(default_factory=dict)
    _more: int = 0
    _series: list[SoakPoint] = field(default_factory=list)
    _steady: list[float] = field(default_factory=list)
    """Rates of the steady launches of this turn."""
    _first: float | None = None
    _last: float | None = None
    _work: float = 0.0
    _busy: float = 0.0
    _wrong_since: int = 0

    @property
    def places(self) -> int:
        """How many places were found wrong."""
        return len(self._places)

    @property
    def wrong(self) -> int:
        """Wrong results and wrong cells so far."""
        return self._wrong.total() + self._cells["failing"] + self._cells["scrambled"]

    @property
    def rate(self) -> float | None:
        """The latest fp32 rate under steady load, FLOP/s."""
        return self._steady[-1] if self._steady else self._last

    def launch(self, workload: Workload, burst: Burst, at: float) -> None:
        """Count one launch and place what came out wrong."""
        self._launches[workload] += 1
        self._checked[workload] += burst.checked
        self._wrong[workload] += burst.wrong
        if not burst.wrong:
            return
        self._wrong_since += burst.wrong
        for group, wrong in burst.worst_groups or ((None, burst.wrong),):
            place = self._place("results", workload, group, None, at)
            if place is not None:
                place.again(at, wrong)

    def steady(self, burst: Burst, *, settled: bool) -> None:
        """Take the rate of a launch under steady fp32 load; `settled`: clocks rose."""
        self._work += burst.work
        self._busy += burst.seconds
        if settled:
            self._steady.append(burst.work / burst.seconds)

    def turn_over(self) -> None:
        """Take the median of a turn of steady load, which is over, as a rate."""
        self._last = median(self._steady) if self._steady else self._last
        self._first = self._last if self._first is None else self._first
        self._steady.clear()

    def reading(self, block: Block, census: Census, at: float) -> None:
        """Count what one reading of a block found.

        Mirrored and hollow cells are counted alone: where there is no memory, none can
        fail.
        """
        for kind in KINDS:
            self._cells[kind] += getattr(census, kind)
        bad = census.failing + census.scrambled
        if not bad:
            return
        self._wrong_since += bad
        place = self._place("memory", "turn", None, block, at)
        if place is not None:
            place.again(at, bad)
            place.read(block, census)

    def point(self, at: float) -> None:
        """Add a point to the series: the latest reading, and what came since."""
        if len(self._series) >= MOST_POINTS:
            return
        sample = self.sample
        self._series.append(
            SoakPoint(
                at_seconds=at,
                rate=self._work / self._busy if self._busy else None,
                core_mhz=sample.core_mhz if sample else None,
                temperature_c=sample.temperature_c if sample else None,
                power_w=sample.power_w if sample else None,
                wrong=self._wrong_since,
            )
        )
        self._work = self._busy = 0.0
        self._wrong_since = 0

    def soak(self) -> Soak:
        """Return everything found until now."""
        now = median(self._steady) if self._steady else None
        cells = sum(self._cells[kind] for kind in KINDS)
        counts = CellCounts(cells=cells, **{kind: self._cells[kind] for kind in KINDS})
        return Soak(
            asked_seconds=self.asked_seconds,
            seconds=self.seconds,
            launches=self._launches.total(),
            checked=self._checked.total(),
            wrong=self._wrong.total(),
            tests=tuple(
                SoakTest(
                    name=name,
                    launches=self._launches[name],
                    checked=self._checked[name],
                    wrong=self._wrong[name],
                )
                for name in self._launches
            ),
            steps=self.steps,
            held_bytes=self.held_bytes,
            memory_bytes=cells * CELL_BYTES,
            passes=self.passes,
            cells=counts if cells else None,
            spots=tuple(place.spot() for place in self._places.values()),
            more_spots=self._more,
            series=tuple(self._series),
            rate_start=now if self._first is None else self._first,
            rate_end=now if self._last is None else self._last,
            stopped_by=self.stopped_by,
        )

    def _place(
        self,
        kind: Literal["results", "memory"],
        test: str,
        group: int | None,
        block: Block | None,
        at: float,
    ) -> _Place | None:
        """Return the place, old or new; None where there is no room for more."""
        key = (test, group if block is None else block.first_cell)
        if key not in self._places:
            if len(self._places) >= MOST_SPOTS:
                self._more += 1
                return None
            sample = self.sample
            self._places[key] = _Place(
                kind=kind,
                test=test,
                first=at,
                temperature_c=sample.temperature_c if sample else None,
                core_mhz=sample.core_mhz if sample else None,
                group=group,
                block=block,
            )
        return self._places[key]
