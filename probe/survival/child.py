"""The measuring process: orders come in, facts go out, one after the other.

What drivers print goes to standard error; standard output carries frames alone. The
process never outlives the one that watches it.
"""

import _thread
import contextlib
import ctypes
import os
import queue
import signal
import sys
import threading
from typing import BinaryIO

from probe.errors import CardError, HostError, UsageError
from probe.events import RISKY
from probe.survival.talk import (
    NONSENSE,
    Acked,
    List,
    Listed,
    Measure,
    Order,
    Pick,
    Picked,
    Refusal,
    Stop,
    Word,
    orders,
    receive,
    send,
)
from probe.survival.work import Worker

_PR_SET_PDEATHSIG = 1
ALONE = 3
"""Exit code of a process whose watcher has gone."""


class Child:
    """Serves orders until there are no more."""

    def __init__(self, orders_in: BinaryIO, words_out: BinaryIO) -> None:
        self._in, self._out = orders_in, words_out
        self._acks = threading.Semaphore(0)
        self._orders: queue.SimpleQueue[Order] = queue.SimpleQueue()
        self._speaking = threading.Lock()
        self._worker = Worker(self.hear)

    def hear(self, word: Word) -> None:
        """Pass a word on; return only once what is risky in it is stored."""
        with self._speaking:
            send(self._out, word)
        if isinstance(word, RISKY):
            self._acks.acquire()

    def serve(self) -> None:
        """Serve until the other side has gone; does not return."""
        threading.Thread(target=self._listen, daemon=True).start()
        while True:
            with contextlib.suppress(KeyboardInterrupt):  # of a run just over
                self._serve(self._orders.get())

    def _serve(self, order: Order) -> None:
        try:
            answer = self._answer(order)
        except UsageError as error:
            answer = Refusal(fault="usage", text=str(error))
        except HostError as error:
            answer = Refusal(fault="host", text=str(error))
        except CardError as error:
            answer = Refusal(fault="card", text=str(error))
        except OSError:
            raise
        except Exception as error:  # noqa: BLE001 - told by the one who prints
            answer = Refusal(fault="bug", text=_bug(error))
        if answer is not None:
            self.hear(answer)

    def _answer(self, order: Order) -> Listed | Picked | Refusal | None:
        match order:
            case List():
                return self._worker.listing(order.without)
            case Pick():
                return self._worker.pick(order.wanted, order.without)
            case Measure():
                self._worker.patience = order.patience
                self._worker.measure(order.identity, order.plan)
            case _:  # answered where they are read
                pass
        return None

    def _listen(self) -> None:
        """Read orders; end the process where nobody gives any more."""
        with contextlib.suppress(OSError, *NONSENSE):
            while (body := receive(self._in)) is not None:
                match orders.decode(body):
                    case Acked():
                        self._acks.release()
                    case Stop():
                        _thread.interrupt_main()
                    case order:
                        self._orders.put(order)
        os._exit(ALONE)


def _bug(error: Exception) -> str:
    import traceback  # noqa: PLC0415 - rare

    place = traceback.extract_tb(error.__traceback__)[-1]
    name = place.filename.replace("\\", "/").rsplit("/", 2)
    where = f"{'/'.join(name[-2:])}, line {place.lineno}"
    return f"{type(error).__name__}: {error} ({where})"


def _die_with_parent() -> None:
    """Have Linux end this process with its parent, even within a driver's call."""
    if not sys.platform.startswith("linux"):
        return
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL)


def main() -> None:
    """Serve the process that started this one."""
    _die_with_parent()
    frames = os.dup(1)
    os.dup2(2, 1)
    sys.stdout = sys.stderr
    with contextlib.suppress(OSError), os.fdopen(frames, "wb") as out:
        Child(sys.stdin.buffer, out).serve()
    os._exit(ALONE)
