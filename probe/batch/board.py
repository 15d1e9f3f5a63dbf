"""What a person sees while cards are tested: a line each, redrawn in place.

Where nothing can be redrawn, a line for each phase, its card's number first. Watches
and prints; decides nothing, and a reader that has gone ends nothing.
"""

import contextlib
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Self

from probe import progress
from probe.events import (
    Event,
    Noted,
    PhaseBegan,
    PhaseEnded,
    Progressed,
    RunBegan,
    Troubled,
)
from reports import batched
from reports.text import plain

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.live import Live as RichLive

REDRAW_SECONDS = 0.2
_LONGEST = 256
_NUMBER, _SHORT = 24, 8
"""Places for a stock number on a wide screen, and on one that is too narrow for all."""


class Board:
    """Shows nothing but results, as lines of JSON or of text."""

    def __init__(
        self, console: "Console", *, brief: bool = False, as_json: bool = False
    ) -> None:
        self.console = console
        self._brief, self._as_json = brief, as_json

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        return None

    def hear(self, number: str, event: Event) -> None:
        """Take in what a card's check tells."""

    def result(self, told: batched.Batched) -> None:
        """Print what came of a card; it goes on where nobody reads it."""
        with contextlib.suppress(OSError):
            if self._as_json:
                self.console.file.buffer.write(batched.encode(told))  # type: ignore[attr-defined]
                self.console.file.flush()
            else:
                self.console.print(batched.render(told, brief=self._brief))


class Plain(Board):
    """A line for each phase, for pipes and logs."""

    def hear(self, number: str, event: Event) -> None:
        """Print the line that an event is worth, if any."""
        match event:
            case RunBegan():
                self._say(number, f"testing {_clean(event.label)}")
            case PhaseEnded():
                self._say(number, progress.ended(event))
            case Noted():
                self._say(number, _clean(event.text))
            case Troubled():
                self._say(number, _clean(progress.troubled(event)))
            case _:
                pass

    def _say(self, number: str, text: str) -> None:
        from rich.text import Text  # noqa: PLC0415 - start-up

        from reports.terminal import encodable  # noqa: PLC0415 - start-up

        line = encodable(f"{number}: {text}", self.console.encoding)
        with contextlib.suppress(OSError):
            self.console.print(Text(line), soft_wrap=True)


class Drawn(Plain):
    """A line for each card under test, redrawn in place; results stay above."""

    def __init__(
        self, console: "Console", clock: Callable[[], float] = time.monotonic
    ) -> None:
        super().__init__(console)
        self._clock = clock
        self._lines: dict[str, str] = {}
        self._titles: dict[str, tuple[str, float]] = {}
        self._drawn = float("-inf")
        self._live: RichLive | None = None

    def __enter__(self) -> Self:
        self._live = progress.redrawn(self.console)
        return self

    def __exit__(self, *_: object) -> None:
        if self._live is not None:
            self._lines.clear()
            self._draw(at_once=True)
            with contextlib.suppress(OSError):
                self._live.stop()
            self._live = None

    def hear(self, number: str, event: Event) -> None:
        """Draw what an event changes."""
        match event:
            case RunBegan():
                self._lines[number] = f"testing {_clean(event.label)}"
            case PhaseBegan():
                self._titles[number] = event.title, self._clock()
                self._lines[number] = progress.running(event.title, None, 0.0)
            case Progressed():
                title, began = self._titles.get(number, ("", self._clock()))
                spent = self._clock() - began
                self._lines[number] = progress.running(title, event, spent)
            case Noted() | Troubled():
                super().hear(number, event)
            case _:
                return
        self._draw()

    def result(self, told: batched.Batched) -> None:
        """Print it, and forget its line."""
        self._lines.pop(told.stock_no, None)
        self._draw(at_once=True)
        super().result(told)

    def _draw(self, *, at_once: bool = False) -> None:
        now = self._clock()
        if self._live is None or not (at_once or now - self._drawn >= REDRAW_SECONDS):
            return
        self._drawn = now
        with contextlib.suppress(OSError):
            self._live.update(self._picture(), refresh=True)

    def _picture(self) -> "RenderableType":
        from rich.console import Group  # noqa: PLC0415 - start-up
        from rich.text import Text  # noqa: PLC0415 - start-up

        from reports.terminal import Encodable  # noqa: PLC0415 - start-up

        room = self.console.width - 2 - max(map(len, self._lines.values()), default=0)
        most = min(_NUMBER, max(room, _SHORT))
        width = min(max(map(len, self._lines), default=0), most)
        return Encodable(
            Group(
                *(
                    Text(
                        f"{_fitted(number, width):<{width}}  {line}",
                        no_wrap=True,
                        overflow="ellipsis",
                    )
                    for number, line in self._lines.items()
                )
            )
        )


def board_for(console: "Console", *, quiet: bool, as_json: bool) -> Board:
    """Return the board for a console: redrawn only on a real terminal."""
    if quiet or as_json:
        return Board(console, brief=quiet, as_json=as_json)
    if console.is_terminal and not console.is_dumb_terminal:
        return Drawn(console)
    return Plain(console)


def _fitted(number: str, width: int) -> str:
    """Return a number, or its end: numbers of one shop begin alike."""
    return number if len(number) <= width else f"…{number[len(number) - width + 1 :]}"


def _clean(text: str) -> str:
    return plain(text, _LONGEST)
