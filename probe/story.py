"""A run told as facts, put together to a record: live or out of a journal alike.

Pure: applies facts in order, knows no device, no file, no clock. The record is valid
after every fact, whatever was told until then.
"""

from dataclasses import dataclass, field

import msgspec

from probe.account import Account
from probe.device import CELL_BYTES
from probe.events import (
    Built,
    Closed,
    Ended,
    Event,
    Guarded,
    HostMemory,
    Measured,
    Opened,
    PhaseBegan,
    PhaseEnded,
    ProofBegan,
    Sensed,
    SensorsFound,
    Soaked,
    Started,
    Troubled,
)
from reports.lasting import Incident, IncidentKind, Soak
from reports.record import (
    Capacity,
    CardIdentity,
    Claim,
    Phase,
    Rate,
    Record,
    Sample,
    Structure,
    Telemetry,
)

MOST_SAMPLES = 4000
UNASKED = SensorsFound(
    source=None,
    missing="the sensors were not asked",
    slowdown_c=None,
    power_limit_w=None,
)
NEVER_OPENED = CardIdentity(label="a card that was never opened", kind="other", index=0)


@dataclass
class Story:
    """What was told of one run."""

    started: Started
    card: Opened | None = None
    identity: CardIdentity = NEVER_OPENED
    """Of the card meant, also where it was never opened."""
    claims: tuple[Claim, ...] = ()
    sensors: SensorsFound = UNASKED
    proofs: list[Account] = field(default_factory=list)
    phases: list[Phase] = field(default_factory=list)
    rates: list[Rate] = field(default_factory=list)
    samples: list[Sample] = field(default_factory=list)
    structure: Structure | None = None
    soak: Soak | None = None
    incidents: list[Incident] = field(default_factory=list)
    stopped: str | None = None
    """Why a guard stopped the run."""
    host_before: int | None = None
    host_least: int | None = None
    running: PhaseBegan | None = None
    """The phase under way."""
    latest: PhaseBegan | None = None
    """The phase that was begun last."""
    interrupted: bool = False
    ended: Ended | None = None
    """How the measuring process ended; None while it has not."""
    closed: bool = False
    offset_seconds: float = 0.0
    """The run's time when the card was last opened: its clock begins anew then."""

    def __post_init__(self) -> None:
        """Take the card meant from the first fact, which a journal has alone."""
        if self.started.identity is not None:
            self.identity, self.claims = self.started.identity, self.started.claims

    def apply(self, fact: Event) -> None:  # noqa: C901, PLR0912 - a flat table of facts
        """Take in one fact; views are passed over.

        Raises ValueError where facts contradict each other.
        """
        match fact:
            case Opened():
                self._opened(fact)
            case SensorsFound():
                self.sensors = fact
            case HostMemory():
                self._host(fact.available_bytes)
            case PhaseBegan():
                self.running = self.latest = fact
                self._to_proof(fact)
            case PhaseEnded():
                self.running = None
                self.phases.append(self._shifted(fact.phase))
            case ProofBegan():
                self._proof_began(fact)
            case Measured():
                self.rates = [r for r in self.rates if r.name != fact.rate.name]
                self.rates.append(fact.rate)
            case Built():
                self.structure = fact.structure
            case Soaked():
                self.soak = fact.soak
            case Sensed():
                self._sensed(fact.sample)
            case Guarded():
                self.stopped = fact.reason
            case Troubled():
                self._troubled(fact)
            case Ended():
                self.ended = fact
                self.interrupted = self.interrupted or fact.interrupted
            case Closed():
                self.closed = True
            case _:
                self._to_proof(fact)

    @property
    def is_over(self) -> bool:
        """Whether all was told that there is to tell."""
        ended = self.ended
        return ended is not None and not ended.lost and self.running is None

    def incident(self, kind: IncidentKind, detail: str) -> Incident:
        """Return what would have to be said if the run were cut off here.

        A device that is lost ends its phase by itself: it is the one before.
        """
        running = self.latest if kind == "lost" else self.running
        block = self.proofs[-1].at_work() if self.proofs and running else None
        proven = self.proofs[-1].proven_bytes() if self.proofs else None
        return Incident(
            kind=kind,
            phase=running.name if running else "opening" if not self.card else "after",
            doing=running.title if running else "Opening the card",
            at_bytes=block.first_cell * CELL_BYTES if block else None,
            block_bytes=block.size_bytes if block else None,
            proven_bytes=proven,
            detail=detail,
        )

    def capacity(self) -> Capacity | None:
        """Return the proof that tells most.

        One that met another place's data: no honest card shows that, and a later proof
        that stays below a crash may not come to it. Else a whole one, else the one that
        proved most; of equals the last.
        """
        best: Account | None = None
        for proof in self.proofs:
            if best is None or _worth(proof) >= _worth(best):
                best = proof
        return None if best is None else best.result()

    def record(self, seconds: float, *, unfinished: bool = False) -> Record:
        """Return what was learnt, unjudged; `unfinished` marks a copy kept midway."""
        begun = self.started
        claims = self.card.claims if self.card else self.claims
        if begun.listing is not None:
            claims = (begun.listing, *claims)
        return Record(
            program=begun.program,
            practice=begun.practice_condition is not None,
            practice_condition=begun.practice_condition,
            interrupted=self.interrupted or unfinished,
            started=begun.started,
            seconds=max(seconds, 0.0),
            depth=begun.depth,
            host=begun.host,
            card=self.card.identity if self.card else self.identity,
            claims=claims,
            phases=tuple(self.phases),
            capacity=self.capacity(),
            rates=tuple(self.rates),
            structure=self.structure,
            soak=self.soak,
            telemetry=self._telemetry() if self.card else None,
            incidents=tuple(self.incidents),
        )

    def _opened(self, fact: Opened) -> None:
        if self.card is None:
            self.card = fact
            self.identity, self.claims = fact.identity, fact.claims
        ends = (one.started_seconds + one.seconds for one in self.phases)
        self.offset_seconds = max(ends, default=0.0)
        self.running = None

    def _to_proof(self, fact: Event) -> None:
        if self.proofs:
            self.proofs[-1].apply(fact)

    def _proof_began(self, fact: ProofBegan) -> None:
        if self.card is None:
            raise ValueError("a proof began on a card that was never opened")
        self.proofs.append(
            Account(
                claimed_bytes=self.card.memory_bytes,
                free_bytes=self.card.free_bytes,
                unified_memory=self.card.identity.unified_memory,
            )
        )
        self.proofs[-1].apply(fact)

    def _troubled(self, fact: Troubled) -> None:
        """Keep what happened; the phase that it cut off has failed."""
        self.incidents.append(fact.incident)
        self.latest = None  # a card that is not opened again was not lost in it
        if self.running is None:
            return
        self.phases.append(
            Phase(
                name=self.running.name,
                outcome="failed",
                started_seconds=self.running.at_seconds + self.offset_seconds,
                seconds=fact.seconds,
                detail=fact.incident.detail,
            )
        )
        self.running = None

    def _shifted(self, phase: Phase) -> Phase:
        start = phase.started_seconds + self.offset_seconds
        return msgspec.structs.replace(phase, started_seconds=start)

    def _sensed(self, sample: Sample) -> None:
        if len(self.samples) < MOST_SAMPLES:
            at = sample.at_seconds + self.offset_seconds
            self.samples.append(msgspec.structs.replace(sample, at_seconds=at))

    def _host(self, available: int) -> None:
        if self.host_before is None or self.host_least is None:
            self.host_before = self.host_least = available
        self.host_least = min(self.host_least, available)

    def _telemetry(self) -> Telemetry:
        return Telemetry(
            source=self.sensors.source,
            missing=self.sensors.missing,
            slowdown_c=self.sensors.slowdown_c,
            power_limit_w=self.sensors.power_limit_w,
            stopped=self.stopped,
            host_memory_before_bytes=self.host_before,
            host_memory_least_bytes=self.host_least,
            samples=tuple(self.samples),
        )


def _worth(proof: Account) -> tuple[bool, bool, int, int]:
    return proof.mirrors, proof.whole, proof.proven_bytes(), proof.covered_bytes
