"""`cardassay lookup`: what the table knows of a card. Touches no card.

Turns rows of the table into the plain data that `reports` shows; decides nothing.
"""

import argparse
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Final

from probe import commands, known_cards
from probe.cli import Exit
from probe.errors import UsageError
from reference import table as tables
from reference.ask import Answer, ask
from reference.envelope import envelopes
from reference.rows import Variant
from reports import known
from reports.text import plain
from reports.units import gib

if TYPE_CHECKING:
    from rich.console import RenderableType

    from reference.table import Table

_MOST: Final = {"name": 24, "id": 24, "chip": 8, "marking": 8}
"""Up to so many variants are shown with all their facts, more as a line each."""


def lookup(asked: argparse.Namespace) -> Exit:
    """Answer one question. Returns 3 where the table knows nothing of it."""
    text = " ".join(asked.text).strip()
    whole = asked.all or asked.coverage
    if bool(text) == whole:
        raise UsageError(
            "lookup takes one question: a model, a PCI id, a chip or a die marking "
            "(`cardassay lookup GTX 1070`), or --all, or --coverage"
        )
    table = tables.load(Path(asked.reference) if asked.reference else None)
    if asked.coverage:
        return _coverage(table, as_json=asked.json)
    if asked.all:
        cards = tuple(known_cards.as_known(row, table) for row in table.variants)
        return _show_all(cards, as_json=asked.json)
    answer = ask(table, text)
    if not answer.rows:
        commands.aside(f"cardassay: {_nothing(answer, plain(text, 80))}")
        return Exit.COULD_NOT_TEST
    if asked.json:
        return _print(
            known.encode([known_cards.as_known(row, table) for row in answer.rows])
        )
    from reports.lookup import render_lookup  # noqa: PLC0415 - not for JSON

    return _render(render_lookup(_compose(answer, table, text)))


def _coverage(table: "Table", *, as_json: bool) -> Exit:
    coverage = known_cards.count(table)
    if as_json:
        return _print(known.encode(coverage))
    from reports.coverage import render_coverage  # noqa: PLC0415 - not for JSON

    return _render(render_coverage(coverage))


def _show_all(cards: tuple[known.KnownCard, ...], *, as_json: bool) -> Exit:
    if as_json:
        return _print(known.encode(cards))
    from reports.lookup import render_list  # noqa: PLC0415 - not for JSON

    return _render(render_list(cards))


def _print(data: bytes) -> Exit:
    sys.stdout.buffer.write(data)
    return Exit.AS_CLAIMED


def _render(view: "RenderableType") -> Exit:
    commands.make_console().print(view)
    return Exit.AS_CLAIMED


def _compose(answer: Answer, table: "Table", text: str) -> known.Lookup:
    few = len(answer.rows) <= _MOST[answer.kind]
    hull = envelopes(answer.rows, table) if few else ()
    chips = dict.fromkeys(row.chip for row in answer.rows)
    cited = {source for row in answer.rows for source in row.sources}
    cited |= {source for one in hull for source in one.sources}
    cited |= {source for chip in chips for source in table.chips[chip].source}
    return known.Lookup(
        asked=plain(text, 80),
        cards=tuple(known_cards.as_known(row, table) for row in answer.rows),
        full=few,
        envelopes=hull,
        siblings=tuple(
            (chip, _siblings(chip, answer.rows, table)) for chip in chips if few
        ),
        notes=tuple(_notes(answer, few=few)),
        sources=tuple(
            known.KnownSource(
                id=one,
                title=table.sources[one].title,
                publisher=table.sources[one].publisher,
                date=table.sources[one].date,
            )
            for one in sorted(cited)
        ),
    )


def _siblings(chip: str, rows: tuple[Variant, ...], table: "Table") -> tuple[str, ...]:
    """Return the other models of a chip, each with its units and sizes."""
    own = {row.model for row in rows}
    others: dict[str, list[Variant]] = {}
    for row in table.variants:
        if row.chip == chip and row.model not in own:
            others.setdefault(row.model, []).append(row)
    return tuple(f"{model} ({_spread(mine)})" for model, mine in others.items())


def _spread(rows: list[Variant]) -> str:
    units = sorted({row.units for row in rows})
    sizes = sorted({row.memory_bytes for row in rows})
    noun = "unit" if units == [1] else "units"
    return f"{_either(map(str, units))} {noun}, {_either(map(gib, sizes))}"


def _either(words: Iterable[str]) -> str:
    return " or ".join(words)


def _notes(answer: Answer, *, few: bool) -> Iterable[str]:
    if answer.kind == "marking":
        yield (
            f"The marking is that of {' or '.join(answer.chips)}; what follows it on a "
            "die tells a grade, which this table does not know."
        )
    models = {row.model for row in answer.rows}
    if answer.kind == "id" and len(models) > 1:
        yield "This id is carried by more than one model: revision and units decide."
    for one in answer.seen:
        yield (f"Also known: a {one.model} on {one.chip} ({one.pci}), details unknown.")
    if not few:
        yield "Name one model to see all that is known of it."


def _nothing(answer: Answer, text: str) -> str:
    """Say what is not there, what is known nevertheless, and what comes near."""
    said = f"the table has no card for {text!r}"
    if answer.chips:
        said += f"; an id like this is one of {' or '.join(answer.chips)}"
    for one in answer.seen:
        said += f"; a {one.model} on {one.chip} is known to exist, its details are not"
    if answer.near:
        said += f"; did you mean {', '.join(answer.near)}?"
    return said
