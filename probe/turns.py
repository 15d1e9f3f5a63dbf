"""Turns: what a PC has only once, and two cards under test must not use together.

*link*: the way to the PC's memory. Cards behind one root port or switch share its
bandwidth; a link found slow while another card used it would let memory pass for the
card's own that lies in the PC's (`held.spilled`), and a genuine link look narrow.
*load*: power supply and air. One card under full load for minutes is what a PC is
built for; several may be more than it can give.

Whoever waits says so, once for a person and all the time for the watchdog. Waiting is
bounded: another run may be stuck. A turn ends with its process, however that ends.
Simulated cards have a PC of their own.
"""

import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import Literal, Protocol

from probe.events import Noted, Watcher, Working
from probe.locks import Lock, lock_shared

Shared = Literal["link", "load"]

LINK_SECONDS = 60.0
"""Longest wait for the link: each card needs it for a few seconds."""
LOADS = 8
"""So many other cards may be loaded one after the other before one goes without."""
POLL_SECONDS = 0.1
ANNOUNCE_SECONDS = 1.0
WAITING: dict[Shared, str] = {
    "link": "waiting: the link of another card of this PC is being measured",
    "load": "waiting: another card of this PC is under full load (--load-together "
    "lets both be at once)",
}
NOT_ALONE = (
    "another card of this PC was measured at the same time: the card was not alone"
)
"""Remark on a rate whose turn did not come."""


class Turns(Protocol):
    """Gives turns. Calls are made by one thread."""

    def take(self, what: Shared, most_seconds: float) -> AbstractContextManager[bool]:
        """Wait for a turn; True where it came, False where the wait ended without."""


class Alone:
    """No other card is here: each turn comes at once."""

    @contextmanager
    def take(self, what: Shared, most_seconds: float) -> Iterator[bool]:  # noqa: ARG002 - nothing to wait for
        """See `Turns`."""
        yield True


def missing() -> str | None:
    """Return why no turns can be taken on this PC, for a person; None where they can.

    A link measured beside another card's, and not known to be, tells lies.
    """
    lock = lock_shared("link")
    if lock is None:
        return None
    lock.release()
    if lock.note is None:
        return None
    return "cards cannot wait for each other, as no lock can be had in the state folder"


class Together:
    """Takes turns with every other run of this user on this PC."""

    def __init__(
        self,
        hear: Watcher,
        *,
        hold: Callable[[str], Lock | None] = lock_shared,
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self._hear = hear
        self._hold, self._clock, self._sleep = hold, clock, sleep

    @contextmanager
    def take(self, what: Shared, most_seconds: float) -> Iterator[bool]:
        """See `Turns`. Where no lock can be had there is nobody to wait for."""
        lock = self._wait(what, most_seconds)
        try:
            yield lock is not None
        finally:
            if lock is not None:
                lock.release()

    def _wait(self, what: Shared, most_seconds: float) -> Lock | None:
        lock = self._hold(what)
        if lock is not None:
            return lock
        self._hear(Noted(text=WAITING[what]))
        began = told = self._clock()
        self._hear(Working(seconds=2 * ANNOUNCE_SECONDS))
        while lock is None and self._clock() - began < most_seconds:
            self._sleep(POLL_SECONDS)
            if self._clock() - told >= ANNOUNCE_SECONDS:
                told = self._clock()
                self._hear(Working(seconds=2 * ANNOUNCE_SECONDS))
            lock = self._hold(what)
        return lock
