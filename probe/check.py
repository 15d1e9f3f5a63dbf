"""`cardassay check`: read what is claimed, choose the cards, have each tested.

Everything that a person can get wrong is refused here, before anything is opened or
written. What happens to a chosen card is `trial.py`'s.
"""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from probe import commands
from probe.cli import Exit
from probe.errors import CardError, HostError, UsageError
from probe.sizes import size_bytes
from reports.record import Claim
from reports.text import plain

if TYPE_CHECKING:
    from probe.identity.cards import Found, Inventory
    from probe.trial import Trial
    from reference.table import Table

CAUTIONS = """\
Before a card of unknown make is put under load:
  - Save your work: a driver may crash or the PC may freeze.
  - Smoke or a smell: switch off at the mains, then unplug the card.
  - Never bridge or leave out a power connector that the board has.
  - Touch earthed metal before you touch the card; no work inside a running PC.
  - Electrical work follows local rules; leave repairs to those licensed for them."""


def check(asked: argparse.Namespace) -> Exit:
    """Test one card, or all; return the exit code of the worst."""
    if asked.practice is not None and asked.card is not None:
        raise UsageError(
            "--practice tests a simulated card and --card a real one: leave one out"
        )
    trial = _trial(asked)
    if asked.practice is not None:
        return _practice(trial, asked.practice)
    from probe.identity import cards  # noqa: PLC0415 - start-up

    inventory = cards.find()
    try:
        chosen = _choose(asked, inventory)
    except HostError as error:
        if asked.or_practice and asked.card is None:
            commands.aside(f"cardassay: {error}")
            return _practice(trial, "")
        return _untested(trial, inventory, error)
    _accept_cautions(asked, chosen)
    return max(_each(trial, chosen), key=_gravity)


def _trial(asked: argparse.Namespace) -> "Trial":
    """Read every option that may be wrong. Raises UsageError, TableError."""
    from probe.trial import Trial  # noqa: PLC0415 - start-up
    from reference import table as tables  # noqa: PLC0415 - start-up

    limit = None
    if asked.memory_limit is not None:
        limit = size_bytes(asked.memory_limit, "--memory-limit")
    table = tables.load(Path(asked.reference) if asked.reference else None)
    return Trial(
        asked=asked, table=table, listing=_listing(asked, table), limit_bytes=limit
    )


def _choose(asked: argparse.Namespace, inventory: "Inventory") -> "list[Found]":
    """Return the cards that are meant. Raises UsageError, HostError."""
    from probe.identity import select  # noqa: PLC0415 - start-up

    if asked.card != "all":
        return [select.select(inventory, asked.card)]
    chosen = list(select.testable(inventory))
    if len(chosen) > 1 and asked.json:
        raise UsageError("--json prints one record: name one card with --card")
    return chosen


def _each(trial: "Trial", chosen: "list[Found]") -> list[Exit]:
    """Test one card after the other; return their codes, until a person says stop."""
    if len(chosen) == 1:
        return [_real(trial, chosen[0], below=None)]
    codes: list[Exit] = []
    for found in chosen:
        place = found.identity.pci_address or str(found.identity.index)
        try:
            codes.append(_real(trial, found, below=place.replace(":", "-")))
        except (HostError, CardError) as error:  # the other cards have their own luck
            commands.aside(f"cardassay: {error}")
            codes.append(Exit.COULD_NOT_TEST)
        if codes[-1] == Exit.INTERRUPTED:
            break
    return codes


def _gravity(code: Exit) -> int:
    order = (
        Exit.AS_CLAIMED,
        Exit.COULD_NOT_TEST,
        Exit.NOT_AS_CLAIMED,
        Exit.INTERRUPTED,
    )
    return order.index(code) if code in order else len(order)


def _listing(asked: argparse.Namespace, table: "Table") -> Claim | None:
    """Return the listing's claim. Raises UsageError for a model nobody knows.

    A size behind the model (`RX 580 8GB`) is the listing's, where none is given apart.
    """
    memory = None
    if asked.claim_memory is not None:
        memory = size_bytes(asked.claim_memory, "--claim-memory")
    if asked.claim is None:
        if memory is None:
            return None
        return Claim(layer="listing", source="given by the user", memory_bytes=memory)
    rows = table.resolve(asked.claim)
    if not rows:
        raise UsageError(_unknown(asked.claim, table))
    if memory is None:
        memory = _size_behind(asked.claim)
    models = dict.fromkeys(row.model for row in rows)
    model = next(iter(models)) if len(models) == 1 else plain(asked.claim)
    return Claim(
        layer="listing", source="given by the user", model=model, memory_bytes=memory
    )


def _size_behind(claim: str) -> int | None:
    from reference.names import split_size  # noqa: PLC0415 - start-up

    parts = split_size(claim)
    return parts[1] if parts else None


def _unknown(claim: str, table: "Table") -> str:
    """Return what to write instead of a claim that names no card of the table."""
    from reference.names import split_size  # noqa: PLC0415 - start-up

    said = f"--claim: the table has no card called {claim[:80]!r}"
    parts = split_size(claim)
    if parts and table.resolve(parts[0]):
        model, size = parts
        return (
            f'{said}; to test it as one of that size, write --claim "{model}" '
            f"--claim-memory {size / 2**30:g}GiB"
        )
    near = table.near(claim)
    offer = f"did you mean {', '.join(near)}? Or leave" if near else "leave"
    return f"{said}; {offer} --claim out to judge the card by what it reports itself"


def _accept_cautions(asked: argparse.Namespace, chosen: "list[Found]") -> None:
    """Show the cautions once; a person says yes, a script says --yes."""
    if asked.yes or all(found.identity.kind == "cpu" for found in chosen):
        return
    commands.aside(CAUTIONS)
    if sys.stdin is None or not sys.stdin.isatty():
        raise UsageError(
            "a real card is only tested once these are accepted: add --yes"
        )
    commands.aside("Go on? [y/N] ", end="")
    if sys.stdin.readline().strip().lower() not in {"y", "yes"}:
        raise UsageError("not accepted; nothing was tested")


def _practice(trial: "Trial", name: str) -> Exit:
    from probe.practice import conditions  # noqa: PLC0415 - start-up

    condition = conditions.find(name or conditions.DEFAULT)
    device = conditions.open_practice(condition.name)
    return trial.run(device, practice=condition.name)


def _real(trial: "Trial", found: "Found", below: str | None) -> Exit:
    """Open a card and test it; one that cannot be opened is reported by its claims."""
    from probe.identity import cards  # noqa: PLC0415 - start-up
    from probe.opencl.device import OpenCLDevice  # noqa: PLC0415 - start-up

    assert found.opencl_device is not None
    try:
        facts = cards.facts(found, "OpenCL events")
        device = OpenCLDevice(found.opencl_device, facts, found.sensors())
    except (HostError, CardError) as error:
        return trial.claims_only(found, error, below)
    return trial.run(device, below=below)


def _untested(trial: "Trial", inventory: "Inventory", error: HostError) -> Exit:
    """Report a card that only the bus shows: claims without measurements.

    Raises the error itself where no such card is meant, or more than one could be.
    """
    from probe.identity.address import normal  # noqa: PLC0415 - start-up

    wanted = trial.asked.card
    silent = [
        card
        for card in inventory.cards
        if card.identity.kind == "gpu" and card.opencl_device is None
    ]
    if wanted not in (None, "all"):
        address = normal(wanted) if ":" in wanted else None
        silent = [
            card
            for card in silent
            if wanted == str(card.identity.index)
            or (address is not None and card.identity.pci_address == address)
        ]
    if len(silent) != 1:
        raise error
    return trial.claims_only(silent[0], error)
