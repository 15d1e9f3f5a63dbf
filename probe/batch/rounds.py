"""One round: the cards that are in the PC now, tested, settled, told.

Checks run in processes of their own; everything else happens in one thread, in order.
Whatever becomes of one card, the others go on.
"""

import queue
import threading
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from msgspec.structs import replace

from probe.batch.board import Board
from probe.batch.places import Shelf
from probe.batch.running import Job, Over, Run, Start
from probe.batch.settling import Desk, gravity
from probe.batch.sharing import waves
from probe.batch.slots import Slot
from probe.cli import Exit
from probe.survival.interrupts import counted
from reports.batched import Batched
from reports.errors import RecordError
from reports.text import named, plain

if TYPE_CHECKING:
    from probe.events import Event

TICK = 0.1
AGAIN = (
    "Its test ran beside one that was cut off, or was itself: tested again alone. Both "
    "records are in the ledger."
)
_ENDED = (Exit.AS_CLAIMED, Exit.NOT_AS_CLAIMED, Exit.COULD_NOT_TEST, Exit.INTERRUPTED)
_FAILED = (Exit.USAGE, Exit.COULD_NOT_TEST, Exit.BUG)
STOPPED = "not tested: the batch was stopped before"


@dataclass(frozen=True, kw_only=True)
class Pair:
    """A card and its number."""

    slot: Slot
    number: str
    again: bool = False
    """Whether it was tested in this round before."""

    @property
    def alone(self) -> bool:
        return self.again or self.slot.alone


@dataclass
class _Under:
    """A check under way, and what ran beside it."""

    pair: Pair
    run: Run
    thread: threading.Thread
    beside: list["_Under"] = field(default_factory=list)
    told: Batched | None = None


@dataclass
class Rounds:
    """What all rounds of a batch share."""

    shelf: Shelf
    desk: Desk
    board: Board
    start: Start
    arguments: tuple[str, ...]
    """Of every check."""
    most: int
    """Checks at once."""
    codes: dict[str, int] = field(default_factory=dict)
    """Exit codes by stock number: the last counts."""
    interrupted: bool = False

    @property
    def code(self) -> int:
        """The gravest of all."""
        if self.interrupted:
            return Exit.INTERRUPTED
        return max(self.codes.values(), key=gravity, default=int(Exit.COULD_NOT_TEST))

    def run(self, pairs: Sequence[Pair]) -> None:
        """Test, settle and tell of all cards."""
        with self.board, counted() as stops:
            stopping = _Stopping(stops)
            again: list[Pair] = []
            for wave in waves([self._known(pair) for pair in pairs]):
                again += self._wave(wave, stopping)
            for pair in again:
                self._wave((pair,), stopping)
            self.interrupted = self.interrupted or bool(stops())

    def tell(self, told: Batched) -> None:
        """Print a result and count it."""
        self.codes[told.stock_no] = told.exit_code
        self.board.result(told)

    def _known(self, pair: Pair) -> Pair:
        """Return it with its number spelt as before, where it was here before."""
        number = self.shelf.place(pair.number).number
        return Pair(slot=pair.slot, number=number, again=pair.again)

    def _wave(self, wave: Sequence[Pair], stopping: "_Stopping") -> list[Pair]:
        """Test cards, so many at once; return those to be tested again, alone."""
        waiting = deque(wave)
        running: list[_Under] = []
        done: list[_Under] = []
        heard: queue.SimpleQueue[tuple[Pair, Event | Over]] = queue.SimpleQueue()
        try:
            while waiting or running:
                stopping.heed([one.run for one in running])
                if stopping.is_on:
                    self._drop(waiting)
                while waiting and len(running) < self.most:
                    self._begin(waiting.popleft(), running, heard)
                ended = self._hear(running, heard)
                if ended is not None:
                    done.append(ended)
        except BaseException:  # whatever it is, no check goes on unwatched
            for one in running:
                one.run.stop()
            raise
        return (
            [] if stopping.is_on else [_again(one) for one in done if _disturbed(one)]
        )

    def _hear(
        self,
        running: list[_Under],
        heard: "queue.SimpleQueue[tuple[Pair, Event | Over]]",
    ) -> _Under | None:
        """Take in the next word, if there is one; return a check that is over."""
        try:
            pair, word = heard.get(timeout=TICK)
        except queue.Empty:
            return None
        if not isinstance(word, Over):
            self.board.hear(pair.number, word)
            return None
        under = next(one for one in running if one.pair is pair)
        running.remove(under)
        under.thread.join()
        under.told = self._over(pair, word)
        self.tell(under.told)
        return under

    def _begin(
        self,
        pair: Pair,
        running: list[_Under],
        heard: "queue.SimpleQueue[tuple[Pair, Event | Over]]",
    ) -> None:
        """Start a check; tell at once why there is none."""
        place = self.shelf.place(pair.number)
        try:
            place.clear()
            job = Job(
                number=pair.number,
                folder=place.path,
                arguments=(*self.arguments, *pair.slot.arguments),
            )
            run = self.start(job, lambda event: heard.put((pair, event)))
        except (OSError, RecordError) as error:
            self.tell(_lost(pair, named(place.path), str(error)))
            return
        thread = threading.Thread(target=lambda: heard.put((pair, _waited(run))))
        under = _Under(pair, run, thread)
        for other in running:
            other.beside.append(under)
            under.beside.append(other)
        running.append(under)
        thread.start()

    def _over(self, pair: Pair, over: Over) -> Batched:
        """Settle a card whose check has ended."""
        place = self.shelf.place(pair.number)
        try:
            told = self.desk.settle(place, pair.slot.card)
        except Exception as error:  # noqa: BLE001 - a bug of ours: the others go on
            problem = f"a bug in cardassay: {type(error).__name__}: {error}"
            told = _lost(pair, named(place.path), problem, Exit.BUG)
        remarks = list(over.said)
        if told.problem is not None and not told.card and remarks:
            told = replace(told, problem=remarks.pop())
        code = told.exit_code
        if over.code in _FAILED and told.interrupted:  # a record kept midway
            code = over.code
        elif over.code not in _ENDED:
            remarks.append(f"its check ended with code {over.code}")
            code = max(code, Exit.COULD_NOT_TEST, key=gravity)
        if pair.again:
            remarks.append(AGAIN)
        return replace(told, remarks=tuple(remarks), exit_code=int(code))

    def _drop(self, waiting: deque[Pair]) -> None:
        while waiting:
            pair = waiting.popleft()
            self.tell(_lost(pair, "", STOPPED, Exit.INTERRUPTED))


class _Stopping:
    """What Ctrl-C comes to: the first ends checks in order, the second at once."""

    def __init__(self, stops: Callable[[], int]) -> None:
        self._stops = stops
        self._heeded = 0

    @property
    def is_on(self) -> bool:
        """Whether it was pressed."""
        return self._count() > 0

    def heed(self, runs: Sequence[Run]) -> None:
        """Pass on what was pressed since."""
        count = self._count()
        if count == self._heeded:
            return
        self._heeded = count
        for run in runs:
            if count == 1:
                run.stop()
            else:
                run.kill()

    def _count(self) -> int:
        return self._stops()


def _waited(run: Run) -> Over:
    """Return how a check ended; a bug in hearing it must not leave us waiting."""
    try:
        return run.wait()
    except Exception as error:  # noqa: BLE001 - told with its card
        return Over(code=Exit.BUG, said=(f"a bug: {type(error).__name__}: {error}",))


def _lost(
    pair: Pair, folder: str, problem: str, code: Exit = Exit.COULD_NOT_TEST
) -> Batched:
    return Batched(
        stock_no=pair.number,
        folder=folder,
        card=plain(pair.slot.identity.label),
        pci_address=pair.slot.identity.pci_address,
        practice=pair.slot.practice,
        problem=plain(problem, 1024),
        exit_code=int(code),
    )


def _disturbed(one: _Under) -> bool:
    """Whether what came of a card may be the doing of another beside it."""
    if not one.beside or one.told is None:
        return False
    if one.told.cut_off:
        return True
    cut = any(other.told is not None and other.told.cut_off for other in one.beside)
    return cut and one.told.outcome != "as claimed"


def _again(one: _Under) -> Pair:
    return Pair(slot=one.pair.slot, number=one.pair.number, again=True)
