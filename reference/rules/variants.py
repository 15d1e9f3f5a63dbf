"""One variant has to fit everything: a name's variants may not lend each other parts.

A name like GT 630 means several boards. Each fact by itself may fit one of them and yet
no board of that name has them all. What fits none of them is another rule's matter.
"""

from collections.abc import Callable, Iterator

from reference.case import Case
from reference.evidence import is_clear
from reference.rows import Variant
from reference.rules._say import a, counted, find
from reference.rules.structure import staircase_factors
from reports.record import Finding

_Rows = frozenset[Variant]
_Fact = tuple[str, _Rows]
_LEAST = 2


def one_variant(case: Case) -> Iterator[Finding]:
    """Look for a variant that has everything that variants of the name have."""
    if len(case.rows) < _LEAST or case.is_part or case.loose or case.on_rare_chip:
        return
    if case.from_memory("units"):
        return
    facts = [fact for fact in _facts(case) if fact[1]]
    fitting = frozenset(case.rows).intersection(*(rows for _, rows in facts))
    if fitting or len(facts) < _LEAST:
        return
    every = len(case.rows)
    said = ", ".join(sorted({words for words, rows in facts if len(rows) < every}))
    yield find(
        "one-variant",
        "strong",
        "contradicts",
        claim=a(case.model),
        measured=said,
        envelope="all of one variant",
        sentence=f"There are several variants of {a(case.model)}, but none that has "
        f"all of this: {said}.",
        sources=case.sources,
    )


def _facts(case: Case) -> Iterator[_Fact]:
    """Return each fact in words, with the variants that it fits."""
    table, rows = case.table, case.rows
    kinds = {row: table.architecture(row) for row in rows}
    name = kinds[rows[0]].unit_name

    def those(value: object, of: Callable[[Variant], set[object]]) -> _Rows:
        return frozenset(row for row in rows if value in of(row))

    built = case.record.structure
    if built is not None and is_clear(built):
        yield (
            f"{built.units} units counted",
            those(built.units, lambda row: _times(row, staircase_factors(row.vendor))),
        )
    for claim in case.reported:
        if case.is_standin(claim):
            continue
        if count := claim.compute_units:
            told = those(count, lambda row: _times(row, kinds[row].units_as))
            yield counted(count, name), told
        if cores := claim.cores:
            yield f"{cores} lanes", those(cores, lambda row: {row.shaders})
        if bits := claim.bus_width_bits:
            yield f"{bits} bits of bus", those(bits, lambda row: {row.bus_bits})
        if one := claim.compute_capability:
            told = those(one, lambda row: {table.chip(row).compute_capability})
            yield f"compute capability {one}", told


def _times(row: Variant, factors: tuple[float, ...]) -> set[object]:
    return {row.units * by for by in factors}
