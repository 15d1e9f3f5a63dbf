"""From the journal of a run that was cut off to its story, its end included.

Pure but for what it is told of the PC.
"""

from typing import TYPE_CHECKING

from probe.events import PhaseBegan, Started, Troubled
from probe.story import Story
from probe.survival.journal import Telling

if TYPE_CHECKING:
    from reports.lasting import IncidentKind

PC_DOWN = "the PC froze, lost its power or was restarted while this was done"
ENDED = "the program was ended while this was done"


def retold(
    telling: Telling, *, pc_restarted: bool
) -> tuple[Story, float, Troubled | None]:
    """Return a journal's story, the run's age, and its end where the journal has none.

    Where the journal does not tell its own end, the run was cut off: by the PC going
    down, if it was started anew since. Lines that each are whole and contradict those
    before them are damage as well.
    """
    story = Story(telling.started)
    seconds = 0.0
    damage = telling.damage
    for number, entry in enumerate(telling.entries, 1):
        if isinstance(entry.fact, Started):
            continue
        try:
            story.apply(entry.fact)
        except (ValueError, OverflowError) as error:
            damage = f"it contradicts itself: {error} (line {number})"
            break
        seconds = max(seconds, entry.seconds)
    if not story.closed and not story.is_over:
        kind: IncidentKind = "frozen" if pc_restarted else "ended"
        detail = PC_DOWN if pc_restarted else ENDED
        if damage is not None:
            detail += f"; the journal ends early: {damage}"
        incident = story.incident(kind, detail)
        began = _began(telling)
        end = Troubled(incident=incident, seconds=max(seconds - began, 0.0))
        story.apply(end)
        return story, seconds, end
    return story, seconds, None


def said(story: Story) -> str:
    """Return in words where a run that was cut off stood."""
    last = story.incidents[-1] if story.incidents else None
    if last is None:
        return "it was over but for its record"
    place = ""
    if last.at_bytes is not None:
        place = f", at {last.at_bytes / 2**30:.2f} GiB of the card's memory"
    return f"{last.doing}{place}: {last.detail}"


def _began(telling: Telling) -> float:
    """Return the run's age when its last phase began."""
    ages = [one.seconds for one in telling.entries if isinstance(one.fact, PhaseBegan)]
    return ages[-1] if ages else 0.0
