"""Where real cards are tested: in processes of their own.

A test that is cut off goes on in a fresh process with what `attempts.py` says; each
end is told as a fact.
"""

import time
from collections.abc import Callable
from typing import Protocol, Self

from probe.errors import CardError, HostError, UsageError
from probe.events import VIEWS, Ended, Event, Noted, PhaseBegan, Troubled
from probe.session import REASON_LIMIT, Plan
from probe.story import Story
from probe.survival.attempts import Attempts
from probe.survival.interrupts import counted
from probe.survival.parent import Gone, Keep, Process
from probe.survival.talk import (
    Asking,
    LayerName,
    List,
    Listed,
    Measure,
    Order,
    Pick,
    Picked,
    Refusal,
    Target,
    Word,
)
from reports.lasting import Incident
from reports.listing import Listing
from reports.record import CardIdentity
from reports.text import plain

PATIENCE_SECONDS = 10.0
MOST_LOOKS = 4
"""One look without each of the three layers, and one with all."""


class BugError(Exception):
    """A bug of ours in the measuring process; the message names the place."""


class Bench(Protocol):
    """Lists, picks and tests cards. Used as a context manager."""

    def __enter__(self) -> Self: ...

    def __exit__(self, *_: object) -> None: ...

    def listing(self) -> Listing:
        """Return what every layer says of every card. Raises HostError."""

    def pick(self, wanted: str | None) -> Picked:
        """Return the cards meant. Raises UsageError, HostError."""

    def measure(
        self, target: Target, plan: Plan, story: Story, keep: Keep, show: Keep
    ) -> None:
        """Test a card: every fact is kept, applied to the story, and shown.

        Raises HostError or CardError where it cannot be opened.
        """


class Supervised:
    """Tests real cards, each in a process that may crash, hang or be killed."""

    def __init__(self, patience: float = PATIENCE_SECONDS) -> None:
        self.patience = patience
        self._process: Process | None
        self._without: dict[LayerName, str] = {}
        self._process = Process(patience)  # it starts while we read the table

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def listing(self) -> Listing:
        answer = self._ask(lambda: List(without=self._without))
        assert isinstance(answer, Listed)
        return answer.listing

    def pick(self, wanted: str | None) -> Picked:
        answer = self._ask(lambda: Pick(wanted=wanted, without=self._without))
        assert isinstance(answer, Picked)
        return answer

    def measure(
        self, target: Target, plan: Plan, story: Story, keep: Keep, show: Keep
    ) -> None:
        attempts = Attempts(plan, list(story.incidents))
        left: Plan | None = plan
        began = time.monotonic()

        def timed(event: Event) -> None:
            nonlocal began
            if isinstance(event, PhaseBegan):
                began = time.monotonic()
            show(event)

        while left is not None:
            cut = self._attempt(target.identity, left, story, keep, timed)
            if cut is None or story.interrupted:
                return
            fact = Troubled(incident=cut, seconds=time.monotonic() - began)
            self.close()  # whatever its process told last is kept before its end is
            keep(fact)
            story.apply(fact)
            show(fact)
            left = attempts.after(cut, story)
            if left is not None:
                show(Noted(text="going on in a fresh process"))

    def close(self) -> None:
        if self._process is not None:
            self._process.close()
            self._process = None

    def _attempt(
        self,
        identity: CardIdentity,
        plan: Plan,
        story: Story,
        keep: Keep,
        show: Keep,
    ) -> Incident | None:
        """Run one process until it ends; return what cut it off, if anything."""
        process = self._fresh(keep)
        process.order(Measure(identity=identity, plan=plan, patience=self.patience))
        with counted() as stops:
            stopped = 0
            while True:
                word = process.hear()
                if stops() > stopped:
                    stopped += 1
                    if stopped > 1:
                        process.kill()
                    process.stop()
                if isinstance(word, Gone):
                    if stopped:
                        story.interrupted = True
                        return None
                    return story.incident(word.kind, word.detail)
                if isinstance(word, Refusal):
                    return _refused(word, story)
                if word is None or isinstance(word, Asking | Picked | Listed):
                    continue
                wrong = _applied(word, story)
                if wrong is not None:
                    process.kill()
                    return story.incident("babbled", wrong)
                show(word)
                if isinstance(word, Ended):
                    return cut_by(word, story)

    def _ask(self, order: Callable[[], Order]) -> Word:
        """Return the answer; layers that end the process are left out one by one."""
        gone: Gone | None = None
        for _ in range(MOST_LOOKS):
            process = self._fresh(None)
            process.order(order())
            gone = None
            while gone is None:
                word = process.hear()
                if isinstance(word, Gone):
                    gone = word
                elif isinstance(word, Refusal):
                    raise _error(word)
                elif isinstance(word, Listed | Picked):
                    return word
            layer = process.asking.layer if process.asking else None
            self.close()
            if layer is None or layer in self._without:
                break
            self._without[layer] = f"{_LAYERS[layer]} was left out: {gone.detail}"
        raise HostError(
            f"the cards of this PC cannot be asked for: {gone.detail if gone else ''}; "
            "restart the PC, then install the maker's own driver afresh"
        )

    def _fresh(self, keep: Keep | None) -> Process:
        """Return the process that waits for orders, or a new one."""
        if self._process is None:
            self._process = Process(self.patience)
        self._process.keep = keep
        return self._process


_LAYERS = {
    "opencl": "OpenCL",
    "nvml": "NVIDIA's management library (NVML)",
    "bus": "the bus",
}


def _applied(word: Event, story: Story) -> str | None:
    """Have a story take in a fact; return why it cannot, else None."""
    if isinstance(word, VIEWS):
        return None
    try:
        story.apply(word)
    except ValueError as error:
        return f"its process contradicted itself: {error}"
    return None


def cut_by(ended: Ended, story: Story) -> Incident | None:
    """Return the incident that a lost device is."""
    if not ended.lost or ended.interrupted:
        return None
    detail = story.phases[-1].detail if story.phases else "the device was lost"
    return story.incident("lost", detail)


def _refused(word: Refusal, story: Story) -> Incident | None:
    """Raise what a refusal says; after a crash it is the run's end instead."""
    if word.fault in ("host", "card") and story.card is not None:
        return story.incident("lost", plain(word.text, REASON_LIMIT))
    raise _error(word)


def _error(word: Refusal) -> Exception:
    kinds: dict[str, type[Exception]] = {
        "usage": UsageError,
        "host": HostError,
        "card": CardError,
    }
    return kinds.get(word.fault, BugError)(word.text)
