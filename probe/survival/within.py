"""A test within this process: of simulated cards, which no driver can bring down.

Tells the same facts in the same order as a process of its own would.
"""

from collections.abc import Callable

from probe.device import Device
from probe.events import VIEWS, Ended, Event, Troubled
from probe.session import Plan, Session
from probe.story import Story
from probe.survival.attempts import Attempts
from probe.survival.bench import cut_by
from probe.survival.interrupts import heeded
from probe.survival.parent import Keep


def measure_within(
    open_device: Callable[[], Device], plan: Plan, story: Story, keep: Keep, show: Keep
) -> None:
    """See `probe.survival.bench.Bench.measure`."""

    def hear(event: Event) -> None:
        if not isinstance(event, VIEWS):
            keep(event)
            story.apply(event)
        show(event)

    attempts = Attempts(plan, list(story.incidents))
    left: Plan | None = plan
    while left is not None:
        device = open_device()
        try:
            with heeded():
                Session(device, left, hear).run()
        except KeyboardInterrupt:  # just before the session's first step, or after it
            hear(Ended(interrupted=True, lost=False))
        finally:
            device.close()
        cut = None if story.ended is None else cut_by(story.ended, story)
        if cut is None or story.interrupted:
            return
        hear(Troubled(incident=cut))
        left = attempts.after(cut, story)
