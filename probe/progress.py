"""What a person sees while a card is tested: a line a phase, the map filling in place.

Watches events and prints; measures nothing, decides nothing, and never makes a run
fail or wait. Time left comes from the clock that is passed in.
"""

import time
from collections.abc import Callable
from types import TracebackType
from typing import TYPE_CHECKING, Final, Literal, Protocol, Self

from probe.events import (
    SHOWN,
    Event,
    MapChanged,
    Noted,
    PhaseBegan,
    PhaseEnded,
    Progressed,
    RunBegan,
    Troubled,
)
from reports import words
from reports.text import plain
from reports.units import duration, gib

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.live import Live as RichLive

Clock = Callable[[], float]
Mode = Literal["auto", "live", "plain", "silent"]

REDRAW_SECONDS: Final = 0.1
"""Least time between two drawings for events of one kind."""
LINE_SECONDS: Final = 5.0
"""Least time between two progress lines where nothing can be redrawn."""
MAP_HEIGHT: Final = 8
_SURE: Final = 0.02
"""Share done before time left is worth saying."""
_TITLE: Final = 34
_MIDDLE: Final = 9
_LEFT: Final = 17
_MINUTE: Final = 60
_NAME_LIMIT: Final = 256


class View(Protocol):
    """A watcher that is also a context manager."""

    def __enter__(self) -> Self: ...

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None: ...

    def __call__(self, event: Event) -> None: ...


def watcher(
    console: "Console", mode: Mode = "auto", clock: Clock = time.monotonic
) -> View:
    """Return the view for a console: `auto` draws live only on a real terminal."""
    if mode == "silent":
        return Silent()
    drawable = console.is_terminal and not console.is_dumb_terminal
    if mode == "live" or (mode == "auto" and drawable):
        return Live(console, clock)
    return Plain(console, clock)


class Silent:
    """Shows nothing."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        return None

    def __call__(self, event: Event) -> None:
        """Ignore the event."""


class Plain(Silent):
    """Lines only, for pipes and logs: nothing is ever redrawn."""

    def __init__(self, console: "Console", clock: Clock = time.monotonic) -> None:
        self._console = console
        self._clock = clock
        self._title = ""
        self._began = 0.0
        self._spoke = 0.0

    def __call__(self, event: Event) -> None:
        """Print the line that an event is worth, if any."""
        match event:
            case RunBegan():
                for text in opening(event):
                    self._say(text)
            case PhaseBegan():
                self._title = event.title
                self._began = self._spoke = self._clock()
            case Progressed():
                self._progressed(event)
            case PhaseEnded():
                self._say(ended(event))
            case Noted():
                self._say(_clean(event.text))
            case Troubled():
                self._say(_clean(troubled(event)))
            case _:
                pass

    def _progressed(self, event: Progressed) -> None:
        now = self._clock()
        if now - self._spoke >= LINE_SECONDS:
            self._spoke = now
            self._say(running(self._title, event, now - self._began))

    def _say(self, text: str) -> None:
        from rich.text import Text  # noqa: PLC0415 - start-up

        from reports.terminal import encodable  # noqa: PLC0415 - start-up

        shown = encodable(text, self._console.encoding)
        self._console.print(Text(shown), soft_wrap=True)


def redrawn(console: "Console") -> "RichLive":
    """Return what is redrawn in place, begun; it draws only when told to."""
    from rich.live import Live as RichLive  # noqa: PLC0415 - start-up

    live = RichLive(
        console=console,
        auto_refresh=False,
        transient=True,
        redirect_stdout=False,
        redirect_stderr=False,
    )
    live.start()
    return live


class Live(Plain):
    """The running phase and the block map redrawn in place; results stay as lines."""

    def __init__(self, console: "Console", clock: Clock = time.monotonic) -> None:
        super().__init__(console, clock)
        self._progress: Progressed | None = None
        self._states: MapChanged | None = None
        self._drawn: dict[type[Event], float] = {}
        self._live: RichLive | None = None

    def __enter__(self) -> Self:
        self._live = redrawn(self._console)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._live is not None:
            self._title = ""
            self._states = None
            self._draw()
            self._live.stop()
            self._live = None

    def __call__(self, event: Event) -> None:
        """Draw what an event changes."""
        if not isinstance(event, SHOWN):
            return
        if isinstance(event, MapChanged):
            self._states = event
        elif isinstance(event, Progressed):
            self._progress = event
        else:
            if isinstance(event, PhaseBegan | PhaseEnded):
                self._progress = None
                self._title = ""
            super().__call__(event)
            self._draw()
            return
        now = self._clock()
        if now - self._drawn.get(type(event), float("-inf")) >= REDRAW_SECONDS:
            self._drawn[type(event)] = now
            self._draw()

    def _draw(self) -> None:
        if self._live is not None:
            self._live.update(self._picture(), refresh=True)

    def _picture(self) -> "RenderableType":
        from rich.console import Group  # noqa: PLC0415 - start-up
        from rich.text import Text  # noqa: PLC0415 - start-up

        from reports.terminal import (  # noqa: PLC0415 - start-up
            Encodable,
            render_map,
        )

        width = self._console.width
        parts: list[RenderableType] = []
        if self._title:
            spent = self._clock() - self._began
            line = running(self._title, self._progress, spent)
            parts.append(Text(line, no_wrap=True, overflow="ellipsis"))
        if self._states is not None and self._states.states:
            parts.append(render_map(self._states.states, width, MAP_HEIGHT))
        return Encodable(Group(*parts))


def opening(event: RunBegan) -> list[str]:
    """Return the first lines of a run; the first of all says when it is practice."""
    lines = []
    if event.practice_condition is not None:
        lines.append(words.practice(_clean(event.practice_condition)))
    lines.append(f"Testing {_clean(event.label)}")
    if event.expected_seconds is not None:
        lines[-1] += f", about {duration(event.expected_seconds)}"
    if event.folder is not None:
        lines.append(f"Keeping the record in {plain(event.folder, 4096)}")
    return lines


def running(title: str, event: Progressed | None, spent_seconds: float) -> str:
    """Return the line of a running phase: what, how far, time left, figure so far."""
    if event is None or event.total <= 0:
        return _line(title, "", "")
    done = min(max(event.done / event.total, 0.0), 1.0)
    left = _left(spent_seconds * (1 - done) / done) if _SURE <= done < 1 else ""
    figure = f"{left:<{_LEFT}} {_clean(event.figure)}"
    return _line(title, f"{done * 100:.0f} %", figure)


def ended(event: PhaseEnded) -> str:
    """Return the line that stays of a phase."""
    phase = event.phase
    if phase.outcome == "done":
        return _line(event.title, duration(phase.seconds), _clean(event.figure))
    told = ": ".join(
        text for text in (words.PHASE[phase.outcome], phase.detail) if text
    )
    return f"{_clean(event.title)}  {_clean(told)}"  # long: not behind the columns


def troubled(event: Troubled) -> str:
    """Return the line that stays of what cut a run off."""
    one = event.incident
    place = "" if one.at_bytes is None else f" at {gib(one.at_bytes)}"
    return f"{one.doing}{place}: {words.INCIDENT[one.kind]}; {one.detail}"


def _line(title: str, middle: str, last: str) -> str:
    return f"{_clean(title):<{_TITLE}} {middle:>{_MIDDLE}}  {last}".rstrip()


def _left(seconds: float) -> str:
    """Return a time left without false precision: whole seconds, at least one."""
    whole = max(round(seconds), 1)
    return f"{whole} s left" if whole < _MINUTE else f"{duration(whole)} left"


def _clean(text: str) -> str:
    return plain(text, _NAME_LIMIT)
