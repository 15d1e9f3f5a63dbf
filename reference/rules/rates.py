"""Rates: whether a genuine card could be this slow, or this fast.

Slow alone is never decisive: heat, power, a riser and other programs slow a genuine
card, and each is looked for before anything is called wrong. Too fast is our fault,
never the card's. A wrong result is a fault at any speed.
"""

from collections.abc import Iterator

from reference.case import Case
from reference.causes import causes, is_memory, lowest_share, unexplained_clock
from reference.envelope import ratio
from reference.rules._say import a, find
from reference.rules.memory import is_absent
from reports.record import Bearing, Envelope, Finding, Rate, Strength
from reports.units import quantity, significant, span

RATIO_LEEWAY = 1.7
"""How far outside every variant's range a ratio of two rates must lie to count."""
EVEN = 0.05
"""How far outside a ratio still is the chip's own."""
HALVED = 0.50
"""Below this share of the rated clock, the clock alone excuses nothing."""
SLACK = 0.90
"""How far below its share of a genuine card's least rate a cause still explains."""
FAR = 1.2
"""How far above every genuine card's best an arithmetic rate lies to ask what it is."""
_ARITHMETIC = ("fp32", "fp64", "int32", "transcendental")
_IN_MEMORY = frozenset(
    {"memory_read", "memory_write", "memory_copy", "link_up", "link_down"}
)
"""Tests whose results are what memory gives back."""
_TITLES = {
    "fp32": "Single precision",
    "fp64": "Double precision",
    "fp16": "Half precision",
    "int32": "Whole-number arithmetic",
    "transcendental": "The rate of powers of two",
    "memory_read": "Memory reading",
    "memory_write": "Memory writing",
    "memory_copy": "Memory copying",
}


def wrong_results(case: Case) -> Iterator[Finding]:
    """Tell of results that came out wrong."""
    for rate in case.record.rates:
        if not rate.wrong:
            continue
        many = f"{rate.wrong:,} of {rate.checked:,}"
        strength: Strength = "decisive"
        bearing: Bearing = "fault"
        said = f"The card computes wrong: {many} results of the {rate.name} test"
        said += " differ from what they must be."
        if rate.name in _IN_MEMORY and is_absent(case):
            strength, bearing = "supporting", "explains"
            said = f"The {rate.name} test read back {many} places wrong: a part of what"
            said += " it used is memory that is not there."
        elif rate.wrong == rate.checked:
            strength, bearing = "strong", "open"
            said = f"Not one of {rate.checked:,} results of the {rate.name} test was"
            said += " right: more likely the driver did not run it than that nothing"
            said += " works."
        elif rate.name in _IN_MEMORY:
            said = f"Memory gives back wrong data: {many} places of the {rate.name}"
            said += " test differ from what was written."
        yield find(
            f"{_slug(rate.name)}-results",
            strength,
            bearing,
            measured=f"{many} results wrong",
            envelope="none wrong",
            sentence=said,
        )


def rates(case: Case) -> Iterator[Finding]:
    """Compare each rate with the envelope of the claimed model."""
    for name, rate in case.rates.items():
        envelope = case.envelopes.get(name)
        if rate.value is None or envelope is None:
            continue
        yield _judged(case, rate, rate.value, envelope)


def _judged(case: Case, rate: Rate, value: float, envelope: Envelope) -> Finding:
    title = _TITLES.get(rate.name, rate.name)
    figure = quantity(value, envelope.unit)
    strength: Strength = "strong"
    bearing: Bearing = "contradicts"
    if value < envelope.low:
        said, strength, bearing = _slow(case, rate, value, envelope)
    elif value > envelope.high:
        strength, bearing = "supporting", "open"
        said = (
            f"{title} reaches {figure}, more than the table expects of "
            f"{a(case.model)}: the measurement or the table is off, not the card."
        )
    else:
        bearing = "agrees"
        said = f"{title} reaches {figure}, as {a(case.model)} does."
    return find(
        f"{_slug(rate.name)}-rate",
        strength,
        bearing,
        claim=a(case.model),
        measured=figure,
        envelope=span(envelope.low, envelope.high, envelope.unit),
        sentence=said,
        sources=envelope.sources,
    )


def _slow(
    case: Case, rate: Rate, value: float, envelope: Envelope
) -> tuple[str, Strength, Bearing]:
    """Say that a rate is too low, and whether what was seen is cause enough."""
    said = (
        f"{_TITLES.get(rate.name, rate.name)} reaches "
        f"{quantity(value, envelope.unit)}; {a(case.model)} reaches at least "
        f"{quantity(envelope.low, envelope.unit)}."
    )
    seen = causes(case, rate)
    words = "; ".join(cause.said for cause in seen)
    share = lowest_share(seen)
    if not seen:
        return f"{said}{unexplained_clock(case, rate)}", "strong", "contradicts"
    if share is not None and value >= envelope.low * share * SLACK:
        enough = share >= HALVED and value >= envelope.low * share
        settled = enough and not is_memory(rate)
        return (
            f"{said} A cause was seen: {words}.",
            "supporting" if settled else "strong",
            "explains",
        )
    if any(cause.share is None for cause in seen):
        said += (
            f" A possible cause was seen: {words}. How much it explains is not known."
        )
        return said, "strong", "open"
    least = quantity(envelope.low * (share or 1.0), envelope.unit)
    said += (
        f" What was seen does not explain it: {words}, and a genuine one would still "
        f"reach {least}."
    )
    return said, "strong", "contradicts"


def too_fast(case: Case) -> Iterator[Finding]:
    """Tell of arithmetic far beyond the model: nothing against it, but not it either.

    Every result is checked, so units that are not there cannot have given them.
    """
    for name in _ARITHMETIC:
        rate, envelope = case.rates.get(name), case.envelopes.get(name)
        if rate is None or rate.value is None or envelope is None or case.is_part:
            continue
        if rate.value > FAR * envelope.high:
            figure = quantity(rate.value, envelope.unit)
            yield find(
                "too-fast",
                "strong",
                "open",
                claim=a(case.model),
                measured=figure,
                envelope=span(envelope.low, envelope.high, envelope.unit),
                sentence=f"{_TITLES[name]} reaches {figure}, far more than "
                f"{a(case.model)} can: either this is another card or the "
                "measurement is off.",
                sources=envelope.sources,
            )
            return


def ratios(case: Case) -> Iterator[Finding]:
    """Do rates stand to each other as on that chip? No clock enters into it."""
    single = case.rates.get("fp32")
    if single is None or not single.value or not case.rows:
        return
    for name in ("fp64", "int32"):
        rate = case.rates.get(name)
        ranges = [ratio(name, row, case.table.architecture(row)) for row in case.rows]
        known = [one for one in ranges if one is not None]
        if rate is None or rate.value is None or len(known) < len(ranges):
            continue
        low, high = min(one for one, _ in known), max(one for _, one in known)
        seen = rate.value / single.value
        fits = low / RATIO_LEEWAY <= seen <= high * RATIO_LEEWAY
        busy = not fits and bool(causes(case, single) or causes(case, rate))
        inside = low * (1 - EVEN) <= seen <= high * (1 + EVEN)
        genuine = span(low, high, "")
        said = f"{_TITLES[name]} runs at {significant(seen)} of single precision"
        if inside:
            said += f", as on {a(case.model)}."
        elif fits:
            said += f", near enough to {genuine} on {a(case.model)}."
        else:
            said += f"; on {a(case.model)} it is {genuine}, at any clock."
            said += " But something slowed the card meanwhile." if busy else ""
        yield find(
            f"{_slug(name)}-ratio",
            "supporting" if fits and not inside else "strong",
            "agrees" if fits else "open" if busy else "contradicts",
            claim=a(case.model),
            measured=f"{significant(seen)} of fp32",
            envelope=f"{genuine} of fp32",
            sentence=said,
            sources=("cuda-guide", *case.sources),
        )


def _slug(name: str) -> str:
    return name.replace("_", "-")
