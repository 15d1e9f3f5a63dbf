"""One run on one card: the phases in order, told as facts.

Composes capacity, rates and structure; judges nothing, prints nothing, stores nothing,
picks no exit code. Whatever happens to the card or to the person's patience, the facts
told until then are what was learnt (`probe/story.py` puts them together).
"""

from collections.abc import Callable
from contextlib import AbstractContextManager, ExitStack, nullcontext, suppress
from dataclasses import dataclass, field
from functools import partial

import msgspec

from probe import environment
from probe.capacity import Proof, prove, second_pass
from probe.device import Device, Workload
from probe.errors import CardError, DeviceLostError, UnsupportedError
from probe.events import (
    BlockSwept,
    Built,
    Ended,
    Event,
    HostMemory,
    Measured,
    Noted,
    Opened,
    PhaseBegan,
    PhaseEnded,
    Progressed,
    RunBegan,
    Watcher,
)
from probe.plan import DWELL_SECONDS, HEAT_SECONDS, THOROUGH_ROUNDS, Plan
from probe.rates import FIRST_SCALE, TARGET_SECONDS, TITLES, Meter, workloads
from probe.sensing import GuardedError, Sensing, said
from probe.soak import TITLE as SOAK_TITLE
from probe.soak import Soaker
from probe.structure.measure import Surveyor
from probe.turns import LINK_SECONDS, LOADS, NOT_ALONE, Alone, Turns
from reports.record import Phase, PhaseOutcome, Rate
from reports.units import gib, quantity

LINK_SCALE = 4.0
LINK_WOKE = 1.25
"""By so much faster than at the first look, and the link was at rest or shared then."""
LINK_SHARED = 4.0
"""A link that other cards used meanwhile may give so many times what was seen."""
HEAT_SAMPLE_EVERY = 8
HEAT_LARGEST = 2.0**30
"""Scale at which a heating launch grows no further, whatever the timer says."""
SIMULATED_TIME = "A simulated card waits in its own time: it takes less of yours."


class Stopped(Exception):  # noqa: N818 - not an error: the run's way out
    """The device is lost or the person stopped: no further phase runs."""


@dataclass
class Session:
    """A run in progress."""

    device: Device
    plan: Plan
    watch: Watcher
    turns: Turns = field(default_factory=Alone)
    proof: Proof | None = None
    fp32: float | None = None
    """The fp32 rate, once it is measured."""
    latest: Rate | None = None
    soaker: Soaker | None = None
    interrupted: bool = False
    lost: bool = False
    """The device no longer answers."""
    sensing: Sensing = field(init=False)
    clock_stood: float = 0.0
    """The last time that the device's clock gave."""
    link_guessed: bool = False
    """Whether no look at the link had its turn."""

    def __post_init__(self) -> None:
        """Set up what belongs to the device."""
        self.sensing = Sensing(self.device, self.watch)

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
            name = self.sensing.phase
            phase = self._phase_of(name, "failed", self.clock_stood, said(error))
            self.watch(PhaseEnded(phase=phase, title=name, figure="failed"))

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
        self.sensing.begin()

    def _announce(self) -> None:
        forecast = self.plan.forecast(self.device.facts.memory_bytes)
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
            with self._link_turn("link_down") as alone:
                look = partial(self._first_look, alone=alone)
                remark = "" if alone else NOT_ALONE
                self._phase("link", "Host link, a first look", look, remark=remark)
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
            self.sensing.sense_by(self._now())

    def _longer(self, proof: Proof) -> None:
        """Further rounds: with a dwell between write and read, then on a hot card."""
        for number in range(2, THOROUGH_ROUNDS + 1):
            proof.renew()
            if number == THOROUGH_ROUNDS:
                self._loaded("heat", "Heating the card", self._heat, must=True)
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
            self.sensing.sense,
            memory_bytes=self._proven,
        )
        for workload in workloads(self.plan.depth):
            if workload in self.plan.without:
                continue
            if not workload.startswith("link"):
                work = partial(self._one, meter, workload)
                self._phase(workload, TITLES[workload], work)
                continue
            with self._link_turn(workload) as alone:
                work = partial(self._one, meter, workload, alone=alone)
                self._phase(workload, TITLES[workload], work)

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
            self.sensing.look,
            memory_bytes=own,
            may_take=lambda: proof is None or not proof.host_is_short(started_with),
        )
        self._loaded("soak", SOAK_TITLE, soaker.run)

    @property
    def _proven(self) -> int:
        """Memory that may be counted on."""
        if self.proof is None:
            return self.plan.proven_bytes
        return self.proof.account.proven_bytes()

    def _one(self, meter: Meter, workload: Workload, *, alone: bool = True) -> None:
        rate = meter.measure(workload)
        if not alone:
            rate = msgspec.structs.replace(rate, remarks=(*rate.remarks, NOT_ALONE))
        self.latest = rate
        self.watch(Measured(rate=rate))
        if workload == "fp32":
            self.fp32 = rate.value
        if workload == "link_down":
            self._second_look(rate, alone=alone)
        if rate.missing is None:
            return
        if rate.missing.startswith("failed"):
            raise CardError(rate.missing.removeprefix("failed: "))
        raise UnsupportedError(rate.missing)

    def _link_turn(self, workload: Workload) -> AbstractContextManager[bool]:
        """Wait for the link, where this device has one."""
        if self.device.supports(workload) is not None:
            return nullcontext(enter_result=True)
        return self.turns.take("link", LINK_SECONDS)

    def _first_look(self, *, alone: bool) -> None:
        """Learn what spilled blocks run at; at most, where others use the link too."""
        assert self.proof is not None
        self.link_guessed = not alone
        best = 0.0
        for _ in range(3):
            burst = self.device.burst("link_down", LINK_SCALE)
            if burst.seconds <= 0:
                continue
            best = max(best, burst.work / burst.seconds)
            self.proof.link(best if alone else best * LINK_SHARED)

    def _second_look(self, rate: Rate, *, alone: bool) -> None:
        """Correct a first look that was disturbed, or found the link at rest.

        By a link thought slow, memory of the PC would pass for the card's own.
        """
        proof = self.proof
        if proof is None or not rate.value or not proof.account.link_rate:
            return
        if alone and self.link_guessed:
            self.link_guessed = False
            proof.link(rate.value)
            return
        seen = rate.value * LINK_SHARED if self.link_guessed else rate.value
        if seen > LINK_WOKE * proof.account.link_rate:
            proof.link(seen)

    def _dwell(self) -> None:
        self.sensing.sense()
        self.device.settle(DWELL_SECONDS)
        self.sensing.sense()

    def _heat(self) -> None:
        """Load the arithmetic units for HEAT_SECONDS of the card's own time."""
        until = self.device.now() + HEAT_SECONDS
        scale = FIRST_SCALE
        number = 0
        while self.device.now() < until:
            number += 1
            sense = self.sensing.sense if number % HEAT_SAMPLE_EVERY == 0 else None
            burst = self.device.burst("fp32", scale, sense)
            if burst.seconds < TARGET_SECONDS and scale < HEAT_LARGEST:
                scale *= 2

    def _loaded(
        self, name: str, title: str, work: Callable[[], None], *, must: bool = False
    ) -> None:
        """Run a phase under full load, while no other card of this PC is."""
        most = LOADS * (HEAT_SECONDS + (self.plan.soak_seconds or 0.0))
        with ExitStack() as held:
            alone = self.plan.load_together or held.enter_context(
                self.turns.take("load", most)
            )
            self._phase(name, title, work if alone else _left_out, necessary=must)

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
        remark: str = "",
    ) -> None:
        """Run one phase, time it, keep the record. Raises Stopped or CardError."""
        outcome: PhaseOutcome = "done"
        detail = remark
        problem: CardError | None = None
        began = self._now()
        try:
            self.watch(PhaseBegan(name=name, title=title, at_seconds=began))
            self.sensing.phase = name
            self.sensing.sense()
            work()
        except UnsupportedError as error:
            outcome, detail = "skipped", said(error)
        except GuardedError as error:
            outcome, detail = "interrupted", said(error)
        except CardError as error:
            outcome, detail, problem = "failed", said(error), error
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
        if self.proof is None or (phase.name == "link" and phase.detail):
            return phase.detail
        return _proof_figure(self.proof, phase)

    @property
    def _over(self) -> bool:
        return self.lost or self.interrupted or self.sensing.stopped

    def _host_available(self) -> int | None:
        """Return the PC's free memory; of no interest to a simulated card."""
        if self.plan.practice_condition is not None:
            return None
        return environment.available_bytes()

    def _watch_host(self) -> None:
        left = self._host_available()
        if left is not None:
            self.watch(HostMemory(available_bytes=left))


def _left_out() -> None:
    raise UnsupportedError(
        "other cards of this PC were under full load all the time; test this one alone"
    )


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
