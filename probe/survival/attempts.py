"""What to try after a process was cut off: pure policy, from what was told until then.

A proof that was cut off is run once more; cut off again at the same place, it is run a
third time with its limit below that place: only this shows that everything below it
passes. One that froze the PC is not repeated at all: it goes on below that place.
Cut off even there, it is given up. That a person ended the program says nothing of any
place.
What else ended a process is not repeated; what comes after it is still done.
"""

from dataclasses import dataclass, field

import msgspec

from probe.plan import Plan
from probe.rates import workloads
from probe.story import Story
from reports.lasting import Incident

MOST_PROCESSES = 8
MOST_HANGS = 4
"""Each costs the patience, and what a call may take besides."""
MOST_STARTS = 2
"""So many processes may end before a card was opened."""
_APART = ("link", "release", "structure", "soak")
_OUTSIDE = ("before", "opening", "after")
_MIB = 2**20


@dataclass
class Attempts:
    """The processes that one test has used up."""

    plan: Plan
    incidents: list[Incident] = field(default_factory=list)

    def after(self, incident: Incident, story: Story) -> Plan | None:
        """Return what the next process is to do; None where nothing is left to try."""
        self.incidents.append(incident)
        hangs = sum(one.kind == "hung" for one in self.incidents)
        if len(self.incidents) >= MOST_PROCESSES or hangs >= MOST_HANGS:
            return None
        plan = self._next(incident)
        if plan is None:
            return None
        done: set[str] = {rate.name for rate in story.rates}
        if story.structure is not None:
            done.add("structure")
        if incident.phase not in _OUTSIDE and not self._is_proof(incident.phase):
            done.add(incident.phase)
            if incident.phase != "link":  # which comes before the proof
                done.add("proof")
        self.plan = msgspec.structs.replace(
            plan,
            again=True,
            without=tuple(sorted({*plan.without, *done})),
            proven_bytes=_proven(story),
        )
        return self.plan if self._anything_left() else None

    def _next(self, incident: Incident) -> Plan | None:
        if incident.phase in _OUTSIDE:
            starts = [one for one in self.incidents if one.phase in _OUTSIDE]
            return self.plan if len(starts) < MOST_STARTS else None
        if self._is_proof(incident.phase) and incident.kind != "ended":
            return self._proof_again()
        return self.plan

    def _proof_again(self) -> Plan:
        """Return the plan with the proof as it is to be run next, if at all."""
        cut = [
            one
            for one in self.incidents
            if self._is_proof(one.phase) and one.kind != "ended"
        ]
        if len(cut) == 1 and cut[0].kind != "frozen":
            return self.plan
        places = [one.at_bytes for one in cut if one.at_bytes is not None]
        lowest = min(places, default=0) // _MIB * _MIB
        if lowest and not self.plan.below_crash:
            return msgspec.structs.replace(
                self.plan, limit_bytes=lowest, below_crash=True
            )
        without = tuple(sorted({*self.plan.without, "proof"}))
        return msgspec.structs.replace(self.plan, without=without)

    def _is_proof(self, phase: str) -> bool:
        rates = workloads("thorough")
        return phase not in (*rates, *_APART, *_OUTSIDE)

    def _anything_left(self) -> bool:
        wanted = {"proof", *workloads(self.plan.depth)}
        if self.plan.depth != "quick":
            wanted.add("structure")
        if self.plan.soak_seconds:
            wanted.add("soak")
        return not wanted <= set(self.plan.without)


def _proven(story: Story) -> int:
    capacity = story.capacity()
    return 0 if capacity is None else capacity.proven_bytes


def resumed(story: Story, folder: str, *, load_together: bool = False) -> Plan | None:
    """Return how a run that was cut off goes on; None where nothing is left."""
    begun = story.started
    attempts = Attempts(
        Plan(
            depth=begun.depth,
            limit_bytes=begun.limit_bytes,
            practice_condition=begun.practice_condition,
            soak_seconds=begun.soak_seconds,
            load_together=load_together,
            folder=folder,
        )
    )
    if not story.incidents or story.is_over:
        return None
    left: Plan | None = None
    for incident in story.incidents:
        left = attempts.after(incident, story)
    return left and msgspec.structs.replace(left, again=False)
