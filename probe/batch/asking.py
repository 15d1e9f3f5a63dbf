"""What a person, or their scanner, is asked: stock numbers, cautions, what is next.

Questions go to standard error, answers are lines of standard input. Tests nothing.
"""

import contextlib
from collections.abc import Callable, Sequence

from probe import commands
from probe.batch.lines import EndOfInputError, Lines
from probe.batch.numbers import scanned
from probe.batch.slots import Slot
from probe.errors import UsageError
from reports.listing import Listing
from reports.text import named, plain

Objection = Callable[[str, Slot], str | None]
"""Why a number looks like a mistake for a card; None where nothing is against it."""
NEXT = """\
Next: where cards can be swapped while the PC runs (an external dock), put the next one
in and press Enter, or scan its number. Else press q and Enter, switch the PC off, swap
them, and start the batch again: it goes on in {folder}"""
HELP = (
    "Enter alone leaves a card out, ? shows what it says of itself, q ends the batch."
)


def numbers_for(
    slots: Sequence[Slot], lines: Lines, against: Objection
) -> tuple[tuple[Slot, str], ...]:
    """Ask each card's number; those left out are missing. Raises EndOfInputError."""
    pairs: list[tuple[Slot, str]] = []
    commands.aside(HELP)
    try:
        for slot in slots:
            number = _number(slot, lines, against, [one for _, one in pairs])
            if number:
                pairs.append((slot, number))
    except EndOfInputError:
        if pairs:
            given = ", ".join(plain(number) for _, number in pairs)
            commands.aside(f"cardassay: not tested: {given}")
        raise
    return tuple(pairs)


def _number(slot: Slot, lines: Lines, against: Objection, used: Sequence[str]) -> str:
    """Return a card's number; "" leaves it out. Said twice, an odd one counts."""
    from reports.ledger.entry import stock_key  # noqa: PLC0415 - start-up

    doubted = None
    question = f"{plain(slot.identity.label)} at {slot.where}: stock number? "
    while True:
        line = lines.ask(question, afresh=doubted is not None)
        if line.strip() == "?":
            _show(slot)
            continue
        if line.strip().lower() == "q":
            raise EndOfInputError
        try:
            number = scanned(line)
        except UsageError as error:
            commands.aside(f"cardassay: {error}; again")
            continue
        if not number:
            return ""
        key = stock_key(number)
        if key in map(stock_key, used):
            commands.aside("cardassay: another card of this round has that number")
            continue
        objection = against(number, slot) if doubted != key else None
        if objection is None:
            return number
        doubted = key
        commands.aside(
            f"cardassay: {objection}; another number, or the same again to keep it"
        )


def _show(slot: Slot) -> None:
    from io import StringIO  # noqa: PLC0415 - rare

    from rich.console import Console  # noqa: PLC0415 - start-up

    from reports.listing import render_inventory  # noqa: PLC0415 - start-up

    text = StringIO()
    console = Console(file=text, width=80, markup=False, highlight=False, emoji=False)
    console.print(render_inventory(Listing(cards=(slot.card,)), 80))
    commands.aside(text.getvalue().rstrip())


def numbers_from(slots: Sequence[Slot], lines: Lines) -> tuple[tuple[Slot, str], ...]:
    """Read a line for each card; an empty one leaves it out, so does the end.

    Raises UsageError where a line is no number, two are the same, or there is none.
    """
    from probe.batch.numbers import once  # noqa: PLC0415 - beside its use

    pairs = []
    with contextlib.suppress(EndOfInputError):
        for slot in slots:
            number = scanned(lines.read())
            if number:
                pairs.append((slot, number))
    if not pairs:
        raise UsageError(WITHOUT)
    once(number for _, number in pairs)
    return tuple(pairs)


WITHOUT = (
    "--yes asks nobody, so each card's stock number has to be given: --stock-no NUMBER "
    "for each card, --stock-list FILE, or a line for each on standard input"
)


def accept(lines: Lines) -> None:
    """Show the cautions; go on if a person says so. Raises UsageError."""
    from probe.check import CAUTIONS  # noqa: PLC0415 - it imports much

    commands.aside(CAUTIONS)
    with contextlib.suppress(EndOfInputError):
        if lines.ask("Go on? [y/N] ", afresh=True).strip().lower() in {"y", "yes"}:
            return
    raise UsageError("not accepted; nothing was tested")


def wants(lines: Lines, question: str) -> bool:
    """Ask whether something shall be done; Enter is a yes."""
    with contextlib.suppress(EndOfInputError):
        return lines.ask(f"{question} [Y/n] ").strip().lower() in {"", "y", "yes"}
    return False


def goes_on(lines: Lines, folder: object) -> bool:
    """Ask for the next round; False where it was the last."""
    commands.aside(NEXT.format(folder=named(folder)))
    with contextlib.suppress(EndOfInputError):
        answer = lines.ask("Enter or q: ", afresh=True)
        if answer.strip().lower() in _ENOUGH:
            return False
        if answer.strip():
            lines.give_back(answer)
        return True
    return False


_ENOUGH = frozenset({"q", "quit", "n", "no"})
