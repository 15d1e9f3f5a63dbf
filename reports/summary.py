"""A record as the few rows that every rendering shows: no wording twice.

Takes a record, returns clean text: every string that came from outside has passed
`plain`, so renderings have only their own medium left to escape for. Decides nothing:
the verdict is the record's.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import takewhile

from reports import seen, words
from reports.cells import cell_bytes_of, starts_of, states_of, totals_of, twins_of
from reports.cut_off import lines_of
from reports.linked import link_remark
from reports.method import cautions_of, method_of
from reports.record import (
    Bearing,
    BlockState,
    Capacity,
    Envelope,
    Finding,
    Outcome,
    Rate,
    Record,
)
from reports.soaked import SoakView, view_of
from reports.text import plain
from reports.units import duration, gib, percent, quantity, span

LONGEST = 1024
"""Characters of one text shown. The record keeps all of it."""
_SHORTEST = 1e-9
"""A launch that took less time than this was not timed."""
_PAIR = 2
"""So many neighbouring numbers are still named one by one."""
ARCS = 3
"""Mirrored cells whose twins are shown."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One line of the ledger: a fact as claimed, as found, as a genuine card has it."""

    title: str
    mark: str
    bearing: str
    strength: str
    claimed: str
    found: str
    genuine: str
    reason: str
    decides: bool
    """Whether the verdict rests on this row."""
    against: bool
    """Whether it speaks against the card."""
    minor: bool
    """Whether it only agrees and the verdict does not rest on it."""
    sources: str
    """Numbers of its sources in the summary's list, from 1: `1 to 3, 5`."""
    rule: str = ""
    """Which rule it is from, for those who word it in another language."""


@dataclass(frozen=True, kw_only=True, slots=True)
class RateRow:
    """One rate beside what a genuine card shows. Figures in `unit`, unscaled."""

    title: str
    unit: str
    text: str
    """The value in words, or why there is none."""
    value: float | None
    low: float | None
    high: float | None
    """Slowest and fastest sample."""
    genuine: tuple[float, float] | None
    genuine_text: str
    basis: str
    outside: str
    """Says where a value lies that is not within the genuine range."""
    below: bool
    """Whether it lies below: too slow is the card's, too fast is ours."""
    remark: str


@dataclass(frozen=True, kw_only=True, slots=True)
class MapRow:
    """What the map's key says of one state."""

    state: BlockState
    words: str
    blocks: int
    size: str


@dataclass(frozen=True, kw_only=True, slots=True)
class MemoryMap:
    """The block map and its key."""

    states: tuple[BlockState, ...]
    starts: tuple[int, ...]
    """Byte offset of each cell."""
    cell: str
    """What one full cell stands for."""
    key: tuple[MapRow, ...]
    twins: tuple[tuple[int, int], ...]
    proven: str
    claimed: str
    caption: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Summary:
    """Everything that is shown of a record above the raw figures."""

    practice: str | None
    """Says that no real card was tested; first and last line wherever it is shown."""
    interrupted: str | None
    outcome: Outcome | None
    mark: str
    sentence: str
    identity: str | None
    """What it really is, by everything measured; None where that was not told."""
    reasons: tuple[str, ...]
    rows: tuple[Row, ...]
    sources: tuple[str, ...]
    """What the rows rest on, each once, in the order in which they name them."""
    unchecked: tuple[str, ...]
    more_reasons: tuple[str, ...]
    """Those before the first that a row of the ledger gives, word for word: from there
    on the ledger tells the rest."""
    more_unchecked: tuple[str, ...]
    """Those that no row of the ledger gives already, word for word."""
    settle: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    """Term and text: which card, when, how deep."""
    memory: MemoryMap | None
    rates: tuple[RateRow, ...]
    soak: SoakView | None
    cut_off: tuple[str, ...]
    """What cut the test off, a line each."""
    eye: tuple[tuple[str, str], ...]
    """Term and text: what a person saw on the card."""
    firmware: tuple[tuple[str, str], ...]
    """Term and text: what a read of its firmware holds."""
    method: tuple[str, ...]
    cautions: tuple[str, ...]


def summarise(record: Record) -> Summary:
    """Return the view of a record. Never raises for a record that could be read."""
    verdict = record.verdict
    outcome = verdict.outcome if verdict else None
    rows, sources = _ledger(record)
    reasons = _lines(verdict.reasons if verdict else ())
    unchecked = _lines(verdict.unchecked if verdict else ())
    ledger = {row.reason for row in rows}
    return Summary(
        practice=_practice(record),
        interrupted=words.INTERRUPTED if record.interrupted else None,
        outcome=outcome,
        mark=words.OUTCOME[outcome][0] if outcome else "?",
        sentence=_sentence(record),
        identity=_identity(record),
        reasons=reasons,
        rows=rows,
        sources=sources,
        unchecked=unchecked,
        more_reasons=tuple(takewhile(lambda text: text not in ledger, reasons)),
        more_unchecked=tuple(text for text in unchecked if text not in ledger),
        settle=_lines(verdict.settle if verdict else ()),
        facts=_facts(record),
        memory=memory_of(record.capacity) if record.capacity else None,
        rates=tuple(_rate(rate, record) for rate in record.rates),
        soak=view_of(record.soak) if record.soak else None,
        cut_off=lines_of(record.incidents),
        eye=seen.inspected(record.inspection),
        firmware=seen.firmware(record.firmware_report),
        method=method_of(record),
        cautions=cautions_of(record),
    )


def clean(text: str) -> str:
    """Return text from a record as it may be shown."""
    return plain(text, LONGEST)


def when(started: str) -> str:
    """Return an ISO 8601 time as `25 November 2026, 19:33 UTC`, or as it stands."""
    try:
        moment = datetime.fromisoformat(started)
    except ValueError:
        return clean(started)
    zone = "UTC" if moment.utcoffset() is not None and not moment.utcoffset() else ""
    if not zone:
        return clean(started)
    return f"{moment.day} {moment:%B %Y, %H:%M} {zone}"


def _lines(texts: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(clean(text) for text in texts if clean(text)))


def _practice(record: Record) -> str | None:
    if not record.practice:
        return None
    return words.practice(clean(record.practice_condition or ""))


def _identity(record: Record) -> str | None:
    """Return what the card really is, where everything measured tells."""
    found = record.identified
    return clean(found.sentence) or None if found else None


def _sentence(record: Record) -> str:
    if record.verdict and clean(record.verdict.sentence):
        return clean(record.verdict.sentence)
    return words.NO_VERDICT_STOPPED if record.interrupted else words.NO_VERDICT


_BEARINGS: dict[Outcome | None, tuple[Bearing, ...]] = {
    "as claimed": ("agrees",),
    "not as claimed": ("contradicts",),
    "faulty": ("fault",),
    "undetermined": ("contradicts", "open", "explains"),
}
"""Which findings an outcome rests on: of these, the strongest there are."""
_ORDER = {"contradicts": 0, "fault": 1, "open": 2, "explains": 3, "agrees": 4}
_WEIGHT = {"decisive": 0, "strong": 1, "supporting": 2}


def _ordered(record: Record) -> tuple[tuple[Finding, bool], ...]:
    """Return the findings, those that decide first, and whether each decides."""
    outcome = record.verdict.outcome if record.verdict else None
    bearings = _BEARINGS.get(outcome, ())
    telling = [one for one in record.findings if one.bearing in bearings]
    best = min((_WEIGHT[finding.strength] for finding in telling), default=None)

    def decides(finding: Finding) -> bool:
        return finding.bearing in bearings and _WEIGHT[finding.strength] == best

    def place(finding: Finding) -> tuple[bool, int, int]:
        return (
            not decides(finding),
            _ORDER[finding.bearing],
            _WEIGHT[finding.strength],
        )

    return tuple((one, decides(one)) for one in sorted(record.findings, key=place))


def _ledger(record: Record) -> tuple[tuple[Row, ...], tuple[str, ...]]:
    """Return the rows, and the sources that they cite by number."""
    model = clean(record.genuine.model) if record.genuine else ""
    findings = _ordered(record)
    sources = _lines(tuple(source for one, _ in findings for source in one.sources))
    rows = tuple(
        _row(finding, model, sources, decides=decides) for finding, decides in findings
    )
    return rows, sources


def _row(
    finding: Finding, model: str, sources: tuple[str, ...], *, decides: bool
) -> Row:
    mark, bearing = words.BEARING[finding.bearing]
    claimed = clean(finding.claim) or words.NOT_SAID
    found = clean(finding.measured) or words.NOT_SAID
    against = finding.bearing in {"contradicts", "fault"}
    named = model and claimed in {f"a {model}", f"an {model}"}  # in every row the same
    if named or (against and model and claimed == found != words.NOT_SAID):
        claimed = words.BY_ITS_MODEL  # the card says itself what its model never has
    return Row(
        title=rule_title(finding.rule),
        mark=mark,
        bearing=bearing,
        strength=words.STRENGTH[finding.strength],
        claimed=claimed,
        found=found,
        genuine=clean(finding.envelope) or words.NOT_SAID,
        reason=clean(finding.sentence),
        decides=decides,
        against=against,
        minor=finding.bearing == "agrees" and not decides,
        sources=_numbers(sources.index(one) + 1 for one in _lines(finding.sources)),
        rule=clean(finding.rule),
    )


def _numbers(places: Iterable[int]) -> str:
    """Return numbers in order, neighbours joined: `1 to 3, 5`."""
    runs: list[list[int]] = []
    for place in sorted(places):
        if runs and place == runs[-1][-1] + 1:
            runs[-1].append(place)
        else:
            runs.append([place])
    return ", ".join(
        f"{run[0]} to {run[-1]}" if len(run) > _PAIR else ", ".join(map(str, run))
        for run in runs
    )


def rule_title(rule: str) -> str:
    """Return the row's title for a rule: `memory-size` becomes `Memory size`."""
    if rule in words.RULES:
        return words.RULES[rule]
    parts = clean(rule).replace("_", " ").replace("-", " ").split()
    title = " ".join(words.SPELLING.get(part, part) for part in parts)
    if not parts or any(sign.isdigit() for sign in parts[0]):
        return title or "Unnamed"
    return title[:1].upper() + title[1:]


def _facts(record: Record) -> tuple[tuple[str, str], ...]:
    card, host, program = record.card, record.host, record.program
    table = clean(program.table_version) if program.table_version else None
    facts = [
        ("Card", clean(card.label)),
        ("Sold as", _listing(record)),
        ("PCI address", clean(card.pci_address) if card.pci_address else None),
        ("Tested", when(record.started)),
        ("Depth", f"{words.DEPTH[record.depth]}, {duration(record.seconds)}"),
        ("PC", clean(f"{host.system} {host.release}, {host.machine}")),
        ("Program", clean(f"cardassay {program.version}")),
        ("Table of genuine cards", table),
    ]
    return tuple((term, text) for term, text in facts if text)


def _listing(record: Record) -> str | None:
    for claim in record.claims:
        if claim.layer == "listing":
            size = None if claim.memory_bytes is None else gib(claim.memory_bytes)
            return (
                ", ".join(clean(part) for part in (claim.model, size) if part) or None
            )
    return None


def memory_of(capacity: Capacity) -> MemoryMap:
    """Return the block map of a proof, and its key."""
    key = tuple(
        MapRow(state=state, words=words.STATE[state], blocks=count, size=gib(size))
        for state, count, size in totals_of(capacity)
    )
    cell = gib(cell_bytes_of(capacity))
    return MemoryMap(
        states=states_of(capacity),
        starts=starts_of(capacity),
        cell=cell,
        key=key,
        twins=twins_of(capacity, ARCS),
        proven=gib(capacity.proven_bytes),
        claimed=gib(capacity.claimed_bytes),
        caption=(
            f"{gib(capacity.proven_bytes)} proven of {gib(capacity.claimed_bytes)} "
            f"reported ({percent(capacity.proven_bytes, capacity.claimed_bytes)}). "
            f"One cell is one block of up to {cell}, in address order."
        ),
    )


def _rate(rate: Rate, record: Record) -> RateRow:
    speeds = [
        rate.work_per_launch / seconds
        for seconds in rate.sample_seconds
        if seconds > _SHORTEST and rate.work_per_launch > 0
    ]
    envelope = _envelope(rate, record)
    if rate.value is None:
        text = clean(rate.missing) if rate.missing else "not measured"
    else:
        text = quantity(rate.value, rate.unit)
    remarks = list(_lines(rate.remarks))
    if rate.name in {"link_up", "link_down"} and (
        said := link_remark(record, rate.name)
    ):
        remarks.append(said)
    if rate.wrong:
        remarks.insert(0, f"{rate.wrong:,} of {rate.checked:,} results were wrong")
    return RateRow(
        title=words.RATE[rate.name],
        unit=rate.unit,
        text=text,
        value=rate.value,
        low=min(speeds, default=None),
        high=max(speeds, default=None),
        genuine=(envelope.low, envelope.high) if envelope else None,
        genuine_text=span(envelope.low, envelope.high, rate.unit) if envelope else "",
        basis=clean(envelope.basis) if envelope else "",
        outside=_outside(rate.value, envelope),
        below=_outside(rate.value, envelope) == words.BELOW,
        remark="; ".join(remarks),
    )


def _outside(value: float | None, envelope: Envelope | None) -> str:
    if value is None or envelope is None or envelope.low <= value <= envelope.high:
        return ""
    return words.BELOW if value < envelope.low else words.ABOVE


def _envelope(rate: Rate, record: Record) -> Envelope | None:
    if record.genuine is None:
        return None
    for envelope in record.genuine.envelopes:
        if (
            envelope.quantity == rate.name
            and envelope.unit == rate.unit
            and 0 < envelope.low <= envelope.high
        ):
            return envelope
    return None
