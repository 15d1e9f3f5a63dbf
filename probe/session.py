"""One run on one card: the phases in order, told as facts.

Composes capacity, rates and structure; judges nothing, prints nothing, stores nothing,
picks no exit code. Whatever happens to the card or to the person's patience, the facts
told until then are what was learnt (`probe/story.py` puts them together).
"""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import partial

from msgspec import Struct

from probe import environment
from probe.capacity import Proof, prove, second_pass
from probe.device import Device, Workload
from probe.errors import CardError, DeviceLostError, UnsupportedError
from probe.events import (
    BlockSwept,
    Built,
    Ended,
    Event,
    Guarded,
    HostMemory,
    Measured,
    Noted,
    Opened,
    PhaseBegan,
    PhaseEnded,
    Progressed,
    RunBegan,
    Sensed,
    SensorsFound,
    Watcher,
)
from probe.guards import Guard
from probe.rates import FIRST_SCALE, TARGET_SECONDS, TITLES, Meter, workloads
from probe.soak import TITLE as SOAK_TITLE
from probe.soak import Soaker
from probe.structure.measure import Surveyor
from reports.record import Depth, Phase, PhaseOutcome, Rate, Sample
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
HEAT_SAMPLE_EVERY = 8
SENSE_SECONDS = 1.0
HEAT_LARGEST = 2.0**30
"""Scale at which a heating launch grows no further, whatever the timer says."""
SIMULATED_TIME = "A simulated card waits in its own time: it takes less of yours."
REASON_LIMIT = 2000
"""Longest text of a failure that is kept: a driver may answer with megabytes."""


class Plan(Struct, frozen=True, kw_only=True):
    """What is to be done, and what no more."""

    depth: Depth = "standard"
    limit_bytes: int | None = None
    practice_condition: str | None = None
    folder: str | None = None
    without: tuple[str, ...] = ()
    """What was done already, or ended an earlier process: `proof`, rates' names,
    `structure`."""
    soak_seconds: float | None = None
    proven_bytes: int = 0
    """What an earlier process proved, where the proof is left out."""
    again: bool = False
    """Whether an earlier process has begun it."""
    below_crash: bool = False
    """Whether the limit lies where an earlier proof was cut off."""


class GuardedError(Exception):
    """The run has to stop so that the card takes no harm."""


class Stopped(Exception):  # noqa: N818 - not an error: the run's way out
    """The device is lost or the person stopped: no further phase runs."""


@dataclass
class Session:
    """A run in progress."""

    device: Device
    plan: Plan
    watch: Watcher
    proof: Proof | None = None
    fp32: float | None = None
    """The fp32 rate, once it is measured."""
    latest: Rate | None = None
    soaker: Soaker | None = None
    interrupted: bool = False
    lost: bool = False
    """The device no longer answers."""
    stopped: bool = False
    """A guard has stopped the run."""
    running: str = "before"
    """The phase that sensor readings belong to."""
    clock_stood: float = 0.0
    """The last time that the device's clock gave."""
    guard: Guard | None = None
    """What watches the readings, once the card's limits are known."""
    sensed_at: float = 0.0
    """When a walk over the memory last looked at the sensors."""
    senseless: bool = False
    """Whether the loss of the sensors was said already."""

    def run(self) -> None:
        """Run all phases; returns normally whatever the card or the person does."""
        try:
            self._all()
        except KeyboardInterrupt:
            self.interrupted = True
        self.watch(Ended(interrupted=self.interrupted, lost=self.lost))

    def _all(self) -> None:
        try:
            self._begin()
            if "proof" not in self.plan.without:
                self._prove()
            self._measure()
            self._survey()
            self._soak()
        except (Stopped, GuardedError):
            return
        except CardError as error:  # outside of any phase
            self.lost = self.lost or isinstance(error, DeviceLostError)
            phase = self._phase_of(
                self.running, "failed", self.clock_stood, _said(error)
            )
            self.watch(PhaseEnded(phase=phase, title=self.running, figure="failed"))

    def _begin(self) -> None:
        """Say which card it is and what comes."""
        facts = self.device.facts
        self.watch(
            Opened(
                identity=facts.identity,
                claims=facts.claims,
                memory_bytes=facts.memory_bytes,
                free_bytes=facts.free_bytes,
            )
        )
        if not self.plan.again:
            self._announce()
        self._watch_host()
        source, missing, slowdown, power = self.device.limits()
        self.watch(
            SensorsFound(
                source=source,
                missing=missing,
                slowdown_c=slowdown,
                power_limit_w=power,
            )
        )
        self.guard = Guard(facts.identity.label, slowdown)
        self._sense()

    def _announce(self) -> None:
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

    def _prove(self) -> None:
        self.proof = Proof(
            self.device,
            self._hear_proof,
            limit_bytes=self.plan.limit_bytes,
            host_available=self._host_available,
            below_crash=self.plan.below_crash,
        )
        proof = self.proof
        link = "link" not in self.plan.without
        if link and self.device.supports("link_down") is None:
            self._phase("link", "Host link, a first look", self._first_look)
        try:
            prove(proof, self._must)
            if self.plan.depth == "thorough":
                self._longer(proof)
        except CardError:
            pass  # recorded by the phase; the rates may still be had
        finally:
            if proof.held and not self._over:
                self._phase("release", "Giving memory back", proof.release)

    def _hear_proof(self, event: Event) -> None:
        """Pass a fact of the proof on; look at the sensors about once a second."""
        self.watch(event)
        if isinstance(event, BlockSwept):
            now = self._now()
            if now - self.sensed_at >= SENSE_SECONDS:
                self.sensed_at = now
                self._sense()

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
        meter = Meter(
            self.device,
            self.plan.depth,
            self.watch,
            self._sense,
            memory_bytes=self._proven,
        )
        for workload in workloads(self.plan.depth):
            if workload in self.plan.without:
                continue
            self._phase(workload, TITLES[workload], partial(self._one, meter, workload))

    def _survey(self) -> None:
        """Measure how the chip is built; a processor is built otherwise."""
        if self.plan.depth == "quick" or self.device.facts.identity.kind == "cpu":
            return
        if "structure" in self.plan.without:
            return

        def say(share: float, figure: str) -> None:
            self.watch(Progressed(done=share, total=1.0, figure=figure))

        surveyor = Surveyor(self.device, say, self._proven)

        def survey() -> None:
            try:
                surveyor.survey()
            finally:  # what was told before a device was lost
                surveyor.relate(self.fp32)
                self.watch(Built(structure=surveyor.found))

        self._phase("structure", "The chip's structure", survey)

    def _soak(self) -> None:
        """Load the card for as long as was asked."""
        seconds = self.plan.soak_seconds
        if not seconds or "soak" in self.plan.without:
            return
        started_with = self._host_available()
        proof = self.proof
        own = self._proven
        if proof is not None:
            result = proof.result()
            own = result.covered_bytes - result.spilled_bytes
        soaker = self.soaker = Soaker(
            self.device,
            seconds,
            self.watch,
            self._look,
            memory_bytes=own,
            may_take=lambda: proof is None or not proof.host_is_short(started_with),
        )
        self._phase("soak", SOAK_TITLE, soaker.run)

    @property
    def _proven(self) -> int:
        """Memory that may be counted on."""
        if self.proof is None:
            return self.plan.proven_bytes
        return self.proof.account.proven_bytes()

    def _one(self, meter: Meter, workload: Workload) -> None:
        rate = self.latest = meter.measure(workload)
        self.watch(Measured(rate=rate))
        if workload == "fp32":
            self.fp32 = rate.value
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
            self.proof.link(max(rate, self.proof.account.link_rate or 0.0))

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
            self.watch(PhaseBegan(name=name, title=title, at_seconds=began))
            self.running = name
            self._sense()
            work()
        except UnsupportedError as error:
            outcome, detail = "skipped", _said(error)
        except GuardedError as error:
            outcome, detail = "interrupted", _said(error)
        except CardError as error:
            outcome, detail, problem = "failed", _said(error), error
            self.lost = self.lost or isinstance(error, DeviceLostError)
        except KeyboardInterrupt:
            outcome, detail = "interrupted", "stopped by the person at the keyboard"
            self.interrupted = True
        phase = self._phase_of(name, outcome, began, detail)
        self._watch_host()
        self.watch(PhaseEnded(phase=phase, title=title, figure=self._figure(phase)))
        if self._over:
            raise Stopped
        if problem is not None and necessary:
            raise problem

    def _phase_of(
        self, name: str, outcome: PhaseOutcome, began: float, detail: str
    ) -> Phase:
        return Phase(
            name=name,
            outcome=outcome,
            started_seconds=began,
            seconds=max(self._now() - began, 0.0),
            detail=detail,
        )

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
        if self.soaker is not None:
            return self.soaker.figure()
        rate = self.latest
        if rate is not None and rate.name == phase.name:
            return quantity(rate.value or 0, rate.unit)
        return "" if self.proof is None else _proof_figure(self.proof, phase)

    def _sense(self) -> None:
        self._look()

    def _look(self) -> Sample | None:
        """Read the sensors, tell it, heed it. Raises GuardedError, DeviceLostError."""
        try:
            sample = self.device.sense(self.running)
        except DeviceLostError:
            raise
        except CardError as error:  # the card can be tested without them
            if not self.senseless:
                self.senseless = True
                self.watch(Noted(text=f"sensors not read: {_said(error)}; going on"))
            return None
        if sample is not None:
            self.watch(Sensed(sample=sample))
            self._heed(sample)
        return sample

    def _heed(self, sample: Sample) -> None:
        """Stop where the card would take harm. Raises GuardedError."""
        if self.guard is None or self._over:
            return
        reason = self.guard.feed(sample)
        for note in self.guard.notes():
            self.watch(Noted(text=note))
        if reason is not None:
            self.stopped = True
            self.watch(Guarded(reason=plain(reason, REASON_LIMIT)))
            raise GuardedError(reason)

    @property
    def _over(self) -> bool:
        return self.lost or self.interrupted or self.stopped

    def _host_available(self) -> int | None:
        """Return the PC's free memory; of no interest to a simulated card."""
        if self.plan.practice_condition is not None:
            return None
        return environment.available_bytes()

    def _watch_host(self) -> None:
        left = self._host_available()
        if left is not None:
            self.watch(HostMemory(available_bytes=left))

    def _forecast(self) -> float | None:
        """Return how long a thorough run takes; other depths are over in seconds."""
        soak = self.plan.soak_seconds or 0.0
        if self.plan.depth != "thorough":
            return soak or None
        size = self.device.facts.memory_bytes
        if self.plan.limit_bytes is not None:
            size = min(size, self.plan.limit_bytes)
        walks = THOROUGH_ROUNDS * WALKS_A_ROUND * size / SLOWEST_BYTES_A_SECOND
        return soak + DWELL_SECONDS + HEAT_SECONDS + walks + 2.0 * len(TITLES)


def _said(error: CardError | GuardedError) -> str:
    """Return an error's words as a record can hold them."""
    return plain(str(error), REASON_LIMIT)


def _proof_figure(proof: Proof, phase: Phase) -> str:
    if phase.name == "take":
        return gib(proof.covered_bytes)
    link = proof.account.link_rate
    if link is not None and phase.name == "link":
        return quantity(link, "B/s")
    last = proof.passes[-1] if proof.passes else None
    if last is not None and phase.name.split()[0] == last.name and last.seconds:
        return quantity(last.bytes_moved / last.seconds, "B/s")
    return ""
