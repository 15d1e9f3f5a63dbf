"""Rates: whether a genuine card could be this slow, or this fast.

Slow alone is never decisive: heat, power, a riser and other programs slow a genuine
card, and each is looked for before anything is called wrong. Too fast is our fault,
never the card's. A wrong result is a fault at any speed.
"""

from collections.abc import Iterator

from reference.case import Case
from reference.envelope import ratio
from reference.rules._say import a, find
from reports.record import Envelope, Finding, Rate, Sample
from reports.units import gib, quantity, span

RATIO_LEEWAY = 1.7
"""How far outside every variant's range a ratio of two rates must lie to count."""
BUSY_PERCENT = 20.0
FREE_SHARE = 0.80
NEAR_SLOWDOWN_C = 3.0
LOWERED = 0.90
"""Core clock over rated clock below which the clock counts as held back."""
HALVED = 0.50
"""Below this share of the rated clock, the clock alone excuses nothing."""
_BEFORE = frozenset({"before", "idle", "identify", "settle"})
"""Phases in which the test itself does not load the card."""
_TELLING = ("throttl", "other program", "busy", "contend")
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
        if rate.wrong:
            yield find(
                f"{_slug(rate.name)}-results",
                "decisive",
                "fault",
                measured=f"{rate.wrong} of {rate.checked} results wrong",
                envelope="none wrong",
                sentence=f"The card computes wrong: {rate.wrong} of {rate.checked} "
                f"results of the {rate.name} test differ from what they must be.",
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
    genuine = span(envelope.low, envelope.high, envelope.unit)
    strength, bearing = "strong", "contradicts"
    if value < envelope.low:
        said = (
            f"{title} reaches {figure}; {a(case.model)} reaches at least "
            f"{quantity(envelope.low, envelope.unit)}."
        )
        causes = _causes(case, rate)
        if causes:
            bearing = "explains"
            said += f" A cause was seen: {'; '.join(causes)}."
            if _clock_accounts(case, rate, value, envelope):
                strength = "supporting"
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
        strength,  # type: ignore[arg-type]  # one of the three words above
        bearing,  # type: ignore[arg-type]
        claim=case.model,
        measured=figure,
        envelope=genuine,
        sentence=said,
        sources=envelope.sources,
    )


def _causes(case: Case, rate: Rate) -> list[str]:
    """Innocent causes of slowness that the record shows."""
    telemetry = case.record.telemetry
    samples = telemetry.samples if telemetry else ()
    mine = [one for one in samples if one.phase == rate.name] or list(samples)
    found = [
        f"the card slowed itself ({word})"
        for word in sorted({word for one in mine for word in one.throttle})
    ]
    limit = telemetry.slowdown_c if telemetry else None
    hottest = max((one.temperature_c or 0.0 for one in mine), default=0.0)
    if limit and hottest >= limit - NEAR_SLOWDOWN_C:
        found.append(f"it was {hottest:.0f} °C hot")
    clock, rated = case.core_mhz(rate.name), _rated_mhz(case)
    lowered = clock and rated and clock < LOWERED * rated and not _is_memory(rate)
    if clock and rated and lowered and (found or not _gives_reasons(case)):
        found.append(f"its core ran at {clock:.0f} MHz of {rated:.0f}")
    found += _neighbours(case, samples)
    found += [
        remark
        for remark in sorted(set(rate.remarks))
        if any(word in remark.casefold() for word in _TELLING)
    ]
    return found


def _neighbours(case: Case, samples: tuple[Sample, ...]) -> Iterator[str]:
    before = [one for one in samples if one.phase in _BEFORE]
    busy = max((one.utilisation_percent or 0.0 for one in before), default=0.0)
    if busy >= BUSY_PERCENT:
        yield f"it was {busy:.0f} % busy before the test"
    proof = case.capacity
    if (
        proof is not None
        and proof.free_bytes is not None
        and proof.free_bytes < FREE_SHARE * proof.claimed_bytes
    ):
        used = proof.claimed_bytes - proof.free_bytes
        yield f"other programs held {gib(used)} of its memory"


def _rated_mhz(case: Case) -> float | None:
    return min((row.clock_hz / 1e6 for row in case.rows), default=None)


def _clock_accounts(case: Case, rate: Rate, value: float, envelope: Envelope) -> bool:
    """Whether the clock seen, by itself, makes the rate a genuine one's."""
    clock, rated = case.core_mhz(rate.name), _rated_mhz(case)
    if not clock or not rated or _is_memory(rate):
        return False
    share = clock / rated
    return HALVED <= share < LOWERED and value >= envelope.low * share


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
        busy = not fits and bool(_causes(case, single) or _causes(case, rate))
        yield find(
            f"{_slug(name)}-ratio",
            "strong",
            "agrees" if fits else "contradicts",
            claim=case.model,
            measured=f"{seen:.3g} of fp32",
            envelope=f"{low:.3g} to {high:.3g} of fp32",
            sentence=f"{_TITLES[name]} runs at {seen:.3g} of single precision, as on "
            f"{a(case.model)}."
            if fits
            else f"{_TITLES[name]} runs at {seen:.3g} of single precision; on "
            f"{a(case.model)} it is {low:.3g} to {high:.3g}, at any clock."
            + (" The card was disturbed meanwhile." if busy else ""),
            sources=("cuda-guide", *case.sources),
        )


def _gives_reasons(case: Case) -> bool:
    """Whether the sensors would say why a clock is low: NVML does."""
    telemetry = case.record.telemetry
    return telemetry is not None and "nvml" in (telemetry.source or "").casefold()


def _is_memory(rate: Rate) -> bool:
    return rate.name.startswith("memory")


def _slug(name: str) -> str:
    return name.replace("_", "-")
