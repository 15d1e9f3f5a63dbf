"""Cards tested by an earlier start of a batch, and not certified or in the ledger.

A PC may go down at any step. What lies in the batch's folder tells which steps are
left; each of them may be done twice without harm.
"""

from contextlib import suppress

from msgspec.structs import replace

from probe import commands
from probe.batch.asking import wants
from probe.batch.lines import Lines
from probe.batch.places import Place
from probe.batch.rounds import Rounds
from probe.errors import HostError
from reports.errors import RecordError


def pick_up(rounds: Rounds, lines: Lines | None) -> None:
    """Settle what was left; ask before, where somebody is there to be asked."""
    left = unsettled(rounds)
    if not left:
        return
    names = ", ".join(place.number for place in left)
    commands.aside(f"cardassay: tested before and not settled yet: {names}")
    if lines is not None and not wants(lines, "Certify and add them now?"):
        return
    for place in left:
        rounds.tell(replace(rounds.desk.settle(place), picked_up=True))


def unsettled(rounds: Rounds) -> tuple[Place, ...]:
    """Return the places where a step is left; none where the ledger does not answer."""
    with suppress(RecordError, HostError):
        return tuple(
            place
            for place in rounds.shelf.places()
            if not rounds.desk.is_settled(place)
        )
    return ()
