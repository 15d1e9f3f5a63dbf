"""`cardassay check`: read what is claimed, choose the cards, have each tested.

Everything that a person can get wrong is refused here, before anything is opened or
written. What happens to a chosen card is `trial.py`'s; a run that the PC did not
survive is `unfinished.py`'s.
"""

import argparse
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from probe import commands, relay
from probe.cli import Exit
from probe.errors import CardError, HostError, UsageError
from probe.locks import lock_card
from probe.power import on_battery, power_note
from probe.sizes import size_bytes
from reports.record import Claim, Depth
from reports.text import plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from probe.device import Device
    from probe.survival.bench import Bench
    from probe.survival.talk import Target
    from probe.trial import Earlier, Trial
    from reference.table import Table

CAUTIONS = """\
Before a card of unknown make is put under load:
  - Save your work: a driver may crash or the PC may freeze.
  - Stay beside it. Smoke or a smell: switch off at the mains, let it cool, then
    unplug the card; do not test it again.
  - Never bridge, adapt or leave out a power connector, be it on the board or missing
    from it.
  - Touch earthed metal before you touch the card; no work inside a running PC.
  - Electrical work follows local rules; leave repairs to those licensed for them."""


def check(asked: argparse.Namespace) -> Exit:
    """Test one card, or all; return the exit code of the worst."""
    if not asked.events:
        return _check(asked)
    with relay.stopped_by_end_of_input():
        return _check(asked)


def _check(asked: argparse.Namespace) -> Exit:
    from probe import unfinished  # noqa: PLC0415 - start-up
    from probe.survival import benches  # noqa: PLC0415 - start-up

    if asked.practice is not None and asked.card is not None:
        raise UsageError(
            "--practice tests a simulated card and --card a real one: leave one out"
        )
    if unfinished.is_meant(asked):
        unfinished.refuse_unheeded(asked)
    elif asked.practice is not None:
        return _practice(trial_of(asked), asked.practice)
    with benches.open_bench(asked.patience) as bench:
        trial = trial_of(asked)
        if unfinished.is_meant(asked):
            return unfinished.settle(trial, bench)
        if not asked.events:  # else whoever watches sees to them
            unfinished.tell_of_others(trial)
        return _real(trial, bench)


def _real(trial: "Trial", bench: "Bench") -> Exit:
    asked = trial.asked
    picked = bench.pick(asked.card)
    if picked.problem is not None:
        error = HostError(picked.problem)
        if asked.or_practice and asked.card is None:
            commands.aside(f"cardassay: {error}")
            return _practice(trial, "")
        if picked.silent is None:
            raise error
        return trial.claims_only(picked.silent, error)
    if len(picked.targets) > 1 and (asked.json or asked.events):
        raise UsageError("--json prints one record: name one card with --card")
    mind_the_battery(asked.depth, soak=trial.soak_seconds is not None)
    accept_cautions(asked, picked.targets)
    return max(_each(trial, bench, picked.targets), key=gravity)


def trial_of(asked: argparse.Namespace) -> "Trial":
    """Read every option that may be wrong. Raises UsageError, TableError."""
    from probe.soak import asked_seconds  # noqa: PLC0415 - start-up
    from probe.trial import Trial  # noqa: PLC0415 - start-up
    from reference import table as tables  # noqa: PLC0415 - start-up

    limit = None
    if asked.memory_limit is not None:
        limit = size_bytes(asked.memory_limit, "--memory-limit")
    table = tables.load(Path(asked.reference) if asked.reference else None)
    return Trial(
        asked=asked,
        table=table,
        listing=listing_of(asked, table),
        limit_bytes=limit,
        soak_seconds=asked_seconds(asked.soak, asked.depth),
    )


def _each(trial: "Trial", bench: "Bench", targets: "Sequence[Target]") -> list[Exit]:
    """Test one card after the other; return their codes, until a person says stop."""
    if len(targets) == 1:
        return [run_held(trial, bench, targets[0])]
    codes: list[Exit] = []
    for target in targets:
        place = target.identity.pci_address or str(target.identity.index)
        below = place.replace(":", "-")
        try:
            codes.append(run_held(trial, bench, target, below=below))
        except (HostError, CardError) as error:  # the other cards have their own luck
            commands.aside(f"cardassay: {error}")
            codes.append(Exit.COULD_NOT_TEST)
        if codes[-1] == Exit.INTERRUPTED:
            break
    return codes


def run_held(
    trial: "Trial",
    bench: "Bench",
    target: "Target",
    *,
    below: str | None = None,
    earlier: "Earlier | None" = None,
) -> Exit:
    """Test a card that no other run of ours is testing. Raises HostError if one is."""
    with lock_card(target.identity) as lock:
        if lock.note is not None:
            commands.aside(f"cardassay: {lock.note}")
        return trial.run(
            target, partial(bench.measure, target), below=below, earlier=earlier
        )


def mind_the_battery(depth: Depth, *, soak: bool) -> None:
    """Say that a battery holds a card back. Raises UsageError for a long test."""
    note = power_note(depth, battery=on_battery(), soak=soak)
    if note is not None:
        commands.aside(f"cardassay: {note}")


def gravity(code: Exit) -> int:
    """Return how grave a code is among those of several cards."""
    order = (
        Exit.AS_CLAIMED,
        Exit.COULD_NOT_TEST,
        Exit.NOT_AS_CLAIMED,
        Exit.INTERRUPTED,
    )
    return order.index(code) if code in order else len(order)


def listing_of(asked: argparse.Namespace, table: "Table") -> Claim | None:
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


def accept_cautions(asked: argparse.Namespace, targets: "Sequence[Target]") -> None:
    """Show the cautions once; a person says yes, a script says --yes."""
    if asked.yes or all(target.identity.kind == "cpu" for target in targets):
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
    from probe.survival import benches  # noqa: PLC0415 - start-up
    from probe.survival.talk import Target  # noqa: PLC0415 - start-up
    from probe.survival.within import measure_within  # noqa: PLC0415 - start-up

    condition = conditions.find(name or conditions.DEFAULT)
    first = conditions.open_practice(condition.name)
    facts = first.facts
    target = Target(identity=facts.identity, claims=facts.claims)
    if condition.ends_process:
        first.close()
        with benches.open_bench(trial.asked.patience) as bench:
            run = partial(bench.measure, target)
            return trial.run(target, run, practice=condition.name)
    unused: list[Device] = [first]

    def open_device() -> "Device":
        return unused.pop() if unused else conditions.open_practice(condition.name)

    try:
        run = partial(measure_within, open_device)
        return trial.run(target, run, practice=condition.name)
    finally:
        for device in unused:
            device.close()
