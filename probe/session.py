"""One run on one card: the phases in order, and a record that is valid at any moment.

Composes capacity, rates and telemetry; judges nothing, prints nothing, picks no exit
code. Whatever happens to the card or to the person's patience, `record()` afterwards
holds what was learnt until then.
"""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial

from probe import environment
from probe.capacity import Proof, prove, second_pass
from probe.device import Device, Workload
from probe.errors import CardError, DeviceLostError, UnsupportedError
from probe.events import (
    Noted,
    PhaseBegan,
    PhaseEnded,
    Progressed,
    RunBegan,
    Watcher,
)
from probe.rates import FIRST_SCALE, TARGET_SECONDS, TITLES, Meter, workloads
from probe.structure.measure import Surveyor
from reports.record import (
    Claim,
    Depth,
    Phase,
    PhaseOutcome,
    Program,
    Rate,
    Record,
    Sample,
    Telemetry,
)
from reports.text import plain
from reports.units import gib, quantity

DWELL_SECONDS = 20.0
HEAT_SECONDS = 30.0
THOROUGH_ROUNDS = 3
"""Rounds of two passes at thorough depth, each with its own seed: the first plain,
the second with a dwell between write and read, the third on a hot card."""
WALKS_A_ROUND = 5
SLOWEST_BYTES_A_SECOND = 20e9
"""For the forecast of a run's length: slower memory is rare."""
LINK_SCALE = 4.0
MOST_SAMPLES = 4000
HEAT_SAMPLE_EVERY = 8
HEAT_LARGEST = 2.0**30
"""Scale at which a heating launch grows no further, whatever the timer says."""
SIMULATED_TIME = "A simulated card waits in its own time: it takes less of yours."
REASON_LIMIT = 2000
"""Longest text of a failure that is kept: a driver may answer with megabytes."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What was asked for."""

    depth: Depth = "standard"
    listing: Claim | None = None
    limit_bytes: int | None = None
    practice_condition: str | None = None
    folder: str | None = None


class Stopped(Exception):  # noqa: N818 - not an error: the run's way out
    """The device is lost or the person stopped: no further phase runs."""


@dataclass
class Session:
    """A run in progress."""

    device: Device
    plan: Plan
    program: Program
    watch: Watcher
    keep: Callable[["Session"], None]
    """Called after every phase: stores what there is."""
    clock: Callable[[], float]
    """Seconds since the program was started."""
    started: str = field(default_factory=environment.now_utc)
    phases: list[Phase] = field(default_factory=list)
    rates: list[Rate] = field(default_factory=list)
    samples: list[Sample] = field(default_factory=list)
    proof: Proof | None = None
    surveyor: Surveyor | None = None
    interrupted: bool = False
    lost: bool = False
    """The device no longer answers."""
    host_before: int | None = None
    host_least: int | None = None
    running: str = "before"
    """The phase that sensor readings belong to."""
    limits: tuple[str | None, str | None, float | None, float | None] = (
        None,
        "the sensors were not asked",
        None,
        None,
    )
    """The device's words on its sensors, asked once: a lost one answers no more."""
    clock_stood: float = 0.0
    """The last time that the device's clock gave."""
    senseless: bool = False
    """Whether the loss of the sensors was said already."""

    def run(self) -> None:
        """Run all phases; returns normally whatever the card or the person does."""
        try:
            self._begin()
            self._prove()
            self._measure()
            self._survey()
        except Stopped:
            return
        except KeyboardInterrupt:
            self.interrupted = True
        except CardError as error:  # outside of any phase
            self.lost = self.lost or isinstance(error, DeviceLostError)
            self._add_phase(self.running, "failed", self.clock_stood, _said(error))
            self.watch(Noted(text=_said(error)))

    def record(self, *, unfinished: bool = False) -> Record:
        """Return what was learnt, unjudged; `unfinished` marks a copy kept midway."""
        facts = self.device.facts
        claims = facts.claims
        if self.plan.listing is not None:
            claims = (self.plan.listing, *claims)
        return Record(
            program=self.program,
            practice=self.plan.practice_condition is not None,
            practice_condition=self.plan.practice_condition,
            interrupted=self.interrupted or unfinished,
            started=self.started,
            seconds=self.clock(),
            depth=self.plan.depth,
            host=environment.host(),
            card=facts.identity,
            claims=claims,
            phases=tuple(self.phases),
            capacity=None if self.proof is None else self.proof.result(),
            rates=tuple(self.rates),
            structure=None if self.surveyor is None else self.surveyor.found,
            telemetry=self._telemetry(),
        )

    def _begin(self) -> None:
        """Say what comes; store a first record, should nothing else come of it."""
        forecast = self._forecast()
        self.watch(
            RunBegan(
                label=self.device.facts.identity.label,
                practice_condition=self.plan.practice_condition,
                folder=self.plan.folder,
                expected_seconds=forecast,
            )
        )
        if forecast is not None and self.plan.practice_condition is not None:
            self.watch(Noted(text=SIMULATED_TIME))
        self.host_before = self.host_least = self._host_available()
        self.keep(self)
        self.limits = self.device.limits()
        self._sense()

    def _prove(self) -> None:
        self.proof = Proof(
            self.device,
            self.watch,
            limit_bytes=self.plan.limit_bytes,
            host_available=self._host_available,
        )
        proof = self.proof
        if self.device.supports("link_down") is None:
            self._phase("link", "Host link, a first look", self._first_look)
        try:
            prove(proof, self._must)
            if self.plan.depth == "thorough":
                self._longer(proof)
        except CardError:
            pass  # recorded by the phase; the rates may still be had
        finally:
            if proof.held and not (self.lost or self.interrupted):
                self._phase("release", "Giving memory back", proof.release)

    def _longer(self, proof: Proof) -> None:
        """Further rounds: with a dwell between write and read, then on a hot card."""
        for number in range(2, THOROUGH_ROUNDS + 1):
            proof.renew()
            if number == THOROUGH_ROUNDS:
                self._must("heat", "Heating the card", self._heat)
            called = f"round {number}"
            self._must("write", f"Memory, {called}: writing", proof.write)
            if number < THOROUGH_ROUNDS:
                dwell = f"Waiting {DWELL_SECONDS:.0f} s before reading"
                self._must("dwell", dwell, self._dwell)
            self._must("verify", f"Memory, {called}: verifying", proof.verify)
            second_pass(proof, self._must, called, "verifying turned")

    def _measure(self) -> None:
        proven = self.proof.result().proven_bytes if self.proof else 0
        meter = Meter(
            self.device,
            self.plan.depth,
            self.watch,
            self._sense,
            memory_bytes=proven,
        )
        for workload in workloads(self.plan.depth):
            self._phase(workload, TITLES[workload], partial(self._one, meter, workload))

    def _survey(self) -> None:
        """Measure how the chip is built; a processor is built otherwise."""
        if self.plan.depth == "quick" or self.device.facts.identity.kind == "cpu":
            return
        proven = self.proof.result().proven_bytes if self.proof else 0

        def say(share: float, figure: str) -> None:
            self.watch(Progressed(done=share, total=1.0, figure=figure))

        self.surveyor = Surveyor(self.device, say, proven)
        self._phase("structure", "The chip's structure", self.surveyor.survey)
        fp32 = next((one.value for one in self.rates if one.name == "fp32"), None)
        self.surveyor.relate(fp32)

    def _one(self, meter: Meter, workload: Workload) -> None:
        rate = meter.measure(workload)
        self.rates.append(rate)
        if rate.missing is None:
            return
        if rate.missing.startswith("failed"):
            raise CardError(rate.missing.removeprefix("failed: "))
        raise UnsupportedError(rate.missing)

    def _first_look(self) -> None:
        assert self.proof is not None
        for _ in range(3):
            burst = self.device.burst("link_down", LINK_SCALE)
            if burst.seconds <= 0:
                continue
            rate = burst.work / burst.seconds
            self.proof.link_rate = max(rate, self.proof.link_rate or 0.0)

    def _dwell(self) -> None:
        self._sense()
        self.device.settle(DWELL_SECONDS)
        self._sense()

    def _heat(self) -> None:
        """Load the arithmetic units for HEAT_SECONDS of the card's own time."""
        until = self.device.now() + HEAT_SECONDS
        scale = FIRST_SCALE
        number = 0
        while self.device.now() < until:
            number += 1
            sense = self._sense if number % HEAT_SAMPLE_EVERY == 0 else None
            burst = self.device.burst("fp32", scale, sense)
            if burst.seconds < TARGET_SECONDS and scale < HEAT_LARGEST:
                scale *= 2

    def _must(self, name: str, title: str, work: Callable[[], None]) -> None:
        """Run a phase without which those after it make no sense."""
        self._phase(name, title, work, necessary=True)

    def _phase(
        self,
        name: str,
        title: str,
        work: Callable[[], None],
        *,
        necessary: bool = False,
    ) -> None:
        """Run one phase, time it, keep the record. Raises Stopped or CardError."""
        outcome: PhaseOutcome = "done"
        detail = ""
        problem: CardError | None = None
        began = self._now()
        try:
            self.watch(PhaseBegan(name=name, title=title))
            self.running = name
            self._sense()
            work()
        except UnsupportedError as error:
            outcome, detail = "skipped", _said(error)
        except CardError as error:
            outcome, detail, problem = "failed", _said(error), error
            self.lost = self.lost or isinstance(error, DeviceLostError)
        except KeyboardInterrupt:
            outcome, detail = "interrupted", "stopped by the person at the keyboard"
            self.interrupted = True
        phase = self._add_phase(name, outcome, began, detail)
        self._watch_host()
        self.watch(PhaseEnded(phase=phase, title=title, figure=self._figure(phase)))
        self.keep(self)
        if self.interrupted or self.lost:
            raise Stopped
        if problem is not None and necessary:
            raise problem

    def _add_phase(
        self, name: str, outcome: PhaseOutcome, began: float, detail: str
    ) -> Phase:
        phase = Phase(
            name=name,
            outcome=outcome,
            started_seconds=began,
            seconds=max(self._now() - began, 0.0),
            detail=detail,
        )
        self.phases.append(phase)
        return phase

    def _now(self) -> float:
        """Return the device's time; where it is lost, the last that it gave."""
        if not self.lost:
            with suppress(CardError):  # whatever comes next will say it
                self.clock_stood = self.device.now()
        return self.clock_stood

    def _figure(self, phase: Phase) -> str:
        """Return the one figure that a finished phase is worth."""
        if phase.outcome != "done":
            return phase.outcome
        if self.rates and self.rates[-1].name == phase.name:
            rate = self.rates[-1]
            return quantity(rate.value or 0, rate.unit)
        return "" if self.proof is None else _proof_figure(self.proof, phase)

    def _sense(self) -> None:
        if len(self.samples) >= MOST_SAMPLES:
            return
        try:
            sample = self.device.sense(self.running)
        except DeviceLostError:
            raise
        except CardError as error:  # the card can be tested without them
            if not self.senseless:
                self.senseless = True
                self.watch(Noted(text=f"sensors not read: {_said(error)}; going on"))
            return
        if sample is not None:
            self.samples.append(sample)

    def _host_available(self) -> int | None:
        """Return the PC's free memory; of no interest to a simulated card."""
        if self.plan.practice_condition is not None:
            return None
        return environment.available_bytes()

    def _watch_host(self) -> None:
        left = self._host_available()
        if left is not None and self.host_least is not None:
            self.host_least = min(self.host_least, left)

    def _telemetry(self) -> Telemetry:
        source, missing, slowdown, power = self.limits
        return Telemetry(
            source=source,
            missing=missing,
            slowdown_c=slowdown,
            power_limit_w=power,
            host_memory_before_bytes=self.host_before,
            host_memory_least_bytes=self.host_least,
            samples=tuple(self.samples),
        )

    def _forecast(self) -> float | None:
        """Return how long a thorough run takes; other depths are over in seconds."""
        if self.plan.depth != "thorough":
            return None
        size = self.device.facts.memory_bytes
        if self.plan.limit_bytes is not None:
            size = min(size, self.plan.limit_bytes)
        walks = THOROUGH_ROUNDS * WALKS_A_ROUND * size / SLOWEST_BYTES_A_SECOND
        return DWELL_SECONDS + HEAT_SECONDS + walks + 2.0 * len(TITLES)


def _said(error: CardError) -> str:
    """Return an error's words as a record can hold them."""
    return plain(str(error), REASON_LIMIT)


def _proof_figure(proof: Proof, phase: Phase) -> str:
    if phase.name == "take":
        return gib(proof.covered_bytes)
    if proof.link_rate is not None and phase.name == "link":
        return quantity(proof.link_rate, "B/s")
    last = proof.passes[-1] if proof.passes else None
    if last is not None and phase.name.split()[0] == last.name and last.seconds:
        return quantity(last.bytes_moved / last.seconds, "B/s")
    return ""
