"""Findings in plain words, and the verdict's sentence, in the pack's language.

Built from rule, bearing and figures; never from what a sentence seems to mean. Where
a language has no words of its own for a finding, the judge's are quoted. Decides
nothing, and says nothing that the record does not: what the judge's sentence names as
found, and no more.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from string import Formatter
from typing import Final

from reports.evidence.speech import Said, figures, number, said
from reports.evidence.wording import FINDINGS, Wording
from reports.record import Bearing, Claim, Finding, Outcome, Record, Strength
from reports.summary import clean
from reports.units import gib

_SHARE: Final = 1e-2
"""Share of cells from which on the proof speaks of missing memory, in every pass."""
_RATES: Final = 2
"""So many rates that are too low are told one by one."""
_MOST: Final = 12
_AGREEING: Final = 6
_SIZE: Final = r"[\d.]+ (?:[KMG]iB|bytes)"
_CLAIM: Final = re.compile(
    rf"(Sold|Reported) as (?:an? )?(.{{1,200}}?)(?:,? (?:sold )?with ({_SIZE}))?\. "
)
_FOUND: Final = re.compile(
    rf" Found: an? (.{{1,200}}?)(?: with ({_SIZE}))?\. Not as claimed"
)
_OWNED: Final = re.compile(r"(.{1,200}), an? ([A-Z0-9].{0,200})")
_CUT_OFF: Final = re.compile(rf"cut off at ({_SIZE}) of ({_SIZE})")
_COUNTS: Final = ("compute-units", "lane-count", "counted-units")
_STORED: Final = ("memory-", "link-")
"""How the rules begin whose faults are the memory's."""
_FIGURES: Final = ("lane-cycles", "warp-width", "resident-groups", "gfx-target")
_NAMES: Final = ("reported-model", "other-card")
_TOLD: Final[Mapping[Outcome, tuple[tuple[Bearing, Strength], ...]]] = {
    "not as claimed": (("contradicts", "decisive"), ("contradicts", "strong")),
    "faulty": (("fault", "decisive"), ("fault", "strong")),
    "undetermined": (
        ("contradicts", "strong"),
        ("open", "strong"),
        ("explains", "strong"),
    ),
    "as claimed": (("agrees", "decisive"), ("agrees", "strong")),
}
"""Which findings are told of each outcome, the most telling first."""
_SAME: Final = {
    "proven-capacity": "memory-bits",
    "told-units": "counted-units",
    "own-word": "measured-chip",
    "lane-count": "compute-units",
}
"""Findings that say nothing more where the other was told."""


@dataclass(frozen=True, slots=True)
class Paragraph:
    """One finding, in words."""

    said: Said
    decisive: bool


def paragraphs(record: Record, words: Wording) -> tuple[Paragraph, ...]:
    """Return what decided, a paragraph a finding."""
    outcome = record.verdict.outcome if record.verdict else "undetermined"
    kinds = _TOLD[outcome]
    if outcome == "not as claimed" and _is(record, "fault", "decisive"):
        kinds = (*kinds[:1], ("fault", "decisive"), *kinds[1:])
    chosen = [
        one
        for bearing, strength in kinds
        for one in record.findings
        if (one.bearing, one.strength) == (bearing, strength)
    ]
    chosen.sort(key=lambda one: (one.strength != "decisive", _is_figure(one)))
    rules = {one.rule for one in chosen}
    chosen = [one for one in chosen if _SAME.get(one.rule) not in rules]
    slow = [one for one in chosen if _is_rate(one)]
    more = slow[_RATES:]
    told = [
        Paragraph(told_of(one, record, words), one.strength == "decisive")
        for one in chosen
        if one not in more
    ]
    if outcome == "as claimed":
        told = [one for one in told if not one.said.foreign][:_AGREEING]
    told = told[:_MOST]
    if more:
        count = number(len(more), words)
        text = words.findings["rate/more"].format(count=count)
        told.append(Paragraph(Said(text), decisive=False))
    return tuple(told)


def told_of(finding: Finding, record: Record, words: Wording) -> Said:
    """Return one finding in the language, else the judge's own sentence."""
    key, fields = _form(finding, record, words)
    quoted = Said(clean(finding.sentence), foreign=words.code != "en")
    if key not in FINDINGS:
        return quoted
    form = words.findings[key]
    wanted = {name for _, name, _, _ in Formatter().parse(form) if name}
    values = {name: fields.get(name, Said("")) for name in wanted}
    if any(one.foreign or not one.text for one in values.values()):
        return quoted
    return Said(form.format_map({name: one.text for name, one in values.items()}))


def verdict(record: Record, words: Wording) -> Said:
    """Return the verdict in one sentence: the judge's facts in the language."""
    if record.verdict is None:
        return Said(words.verdict.none)
    judged = clean(record.verdict.sentence)
    claim = _CLAIM.match(judged)
    if claim is None:
        return Said(judged, foreign=words.code != "en")
    parts = [_claimed(claim, words), *_concluded(record, judged, words)]
    return Said(" ".join(parts))


def listed(record: Record) -> Claim | None:
    """Return what the card was sold as, where that names a model."""
    told = [one for one in record.claims if one.layer == "listing" and one.model]
    return told[0] if told else None


def claim_text(claim: Claim, words: Wording) -> str:
    """Return `GeForce GTX 1070, 8.00 GiB`."""
    model = clean(claim.model or "")
    if not claim.memory_bytes:
        return model
    return f"{model}, {figures(gib(claim.memory_bytes), words)}"


def row_title(rule: str, title: str, words: Wording) -> Said:
    """Return the title of a row; `title` is its English one."""
    if rule in words.titles:
        return Said(words.titles[rule])
    for end, form in (
        ("-rate", words.rate),
        ("-ratio", words.ratio),
        ("-results", words.results),
    ):
        name = rule.removesuffix(end).replace("-", "_")
        if rule.endswith(end) and name in words.rates:
            return Said(form.format(rate=words.rates[name]))
    return Said(title, foreign=words.code != "en")


def _form(
    finding: Finding, record: Record, words: Wording
) -> tuple[str, dict[str, Said]]:
    """Return the key of a finding's words, and what they are filled in with."""
    rule, bearing = finding.rule, finding.bearing
    key = f"{rule}/{bearing}"
    fields = {
        "claim": said(finding.claim, words),
        "measured": said(finding.measured, words),
        "envelope": said(finding.envelope, words),
        "model": Said(_model(record, words)),
    }
    for end in ("rate", "ratio", "results"):
        name = rule.removesuffix(f"-{end}").replace("-", "_")
        if rule.endswith(f"-{end}") and name in words.rates:
            key = f"{end}/{bearing}"
            if end == "results" and rule.startswith(_STORED):
                key = f"memory-{key}"
            fields["rate"] = Said(words.rates[name])
    if rule in _NAMES:
        for name in ("claim", "measured"):
            bare = re.sub(r"^an? ", "", clean(getattr(finding, name)))
            fields[name] = Said(words.article(bare) if bare else "")
    if key == "memory-bits/contradicts":
        key = f"memory-bits/{_missing(record)}"
        proven = re.match(rf"{_SIZE}", clean(finding.measured))
        fields["proven"] = Said(figures(proven[0], words) if proven else "")
    if key == "proven-capacity/contradicts" and (
        record.capacity is not None and record.capacity.spilled_bytes
    ):
        key = "proven-capacity/spilled"
    return key, fields | _parsed(finding, words)


def _parsed(finding: Finding, words: Wording) -> dict[str, Said]:
    """Return the parts of what was measured: an id and whose it is, a place, a chip."""
    measured = clean(finding.measured)
    chip = measured.partition(" with ")[0]
    fields = {"chip": said(chip, words)}
    owned = _OWNED.fullmatch(measured)
    if owned is not None:
        owner = said(owned[2], words)
        fields |= {
            "id": Said(owned[1]),
            "marking": Said(owned[1]),
            "owner": Said(words.article(owner.text), owner.foreign),
        }
    cut = _CUT_OFF.fullmatch(measured)
    if cut is not None:
        fields |= {"place": said(cut[1], words), "whole": said(cut[2], words)}
    return fields


def _missing(record: Record) -> str:
    """Return in which way memory is missing: as every pass that read shows it."""
    proof = record.capacity
    counts = [
        one.counts
        for one in (proof.passes if proof else ())
        if one.name != "write" and one.counts is not None and one.counts.cells
    ]
    if not counts:
        return "blocks"
    mirrored = all(one.mirrored >= _SHARE * one.cells for one in counts)
    hollow = all(one.hollow >= _SHARE * one.cells for one in counts)
    if mirrored and hollow:
        return "both"
    if mirrored:
        return "mirrored"
    return "hollow" if hollow else "blocks"


def _model(record: Record, words: Wording) -> str:
    claim = listed(record)
    name = record.genuine.model if record.genuine else (claim.model if claim else "")
    bare = clean(name or "")
    return words.article(bare) if bare else ""


def _claimed(claim: re.Match[str], words: Wording) -> str:
    form = words.verdict
    what = form.unnamed if claim[2] == "unnamed card" else claim[2]
    what = words.article(what)
    sold = claim[1] == "Sold"
    if claim[3] is None:
        return (form.sold if sold else form.reported).format(what=what)
    size = figures(claim[3], words)
    return (form.sold_size if sold else form.reported_size).format(what=what, size=size)


def _concluded(record: Record, judged: str, words: Wording) -> list[str]:
    """Return what was found, and the outcome, each a sentence."""
    assert record.verdict is not None
    form, outcome = words.verdict, record.verdict.outcome
    if outcome == "as claimed":
        size = re.search(rf"Found: ({_SIZE}) of working memory", judged)
        if size is None:
            return [form.as_claimed]
        found = form.nothing_against.format(size=figures(size[1], words))
        return [form.found.format(found=found), form.as_claimed]
    if outcome == "undetermined":
        doubts = _is(record, "contradicts", "strong")
        return [form.doubtful if doubts else form.not_false, form.undetermined]
    if outcome == "faulty":
        found = _joined(_broken(record, words), words)
        return [form.found.format(found=found), form.faulty]
    found = _joined(_really(record, judged, words) or _against(record, words), words)
    faulty = _is(record, "fault")
    end = form.not_and_faulty if faulty else form.not_as_claimed
    return [form.found.format(found=found), end] if found else [end]


def _really(record: Record, judged: str, words: Wording) -> list[str]:
    """Return the card that the judge's sentence names, where it names one."""
    found, form = _FOUND.search(judged), words.verdict
    if found is None or record.identified is None or not record.identified.chips:
        return []
    first = record.identified.chips[0]
    what = said(found[1], words)
    if what.foreign:
        return []
    size = figures(found[2] or "", words)
    name = words.article(what.text)
    if found[1].startswith(first.chip):
        shape = form.chip_size if size else form.chip
        return [shape.format(what=name, size=size)]
    if any(found[1].startswith(model) for model in first.models):
        return [form.model.format(what=name)]
    return []


def _against(record: Record, words: Wording) -> list[str]:
    """Return what the decisive findings found, two at the most."""
    form = words.verdict
    found: dict[str, str] = {}
    for one in record.findings:
        if (one.bearing, one.strength) != ("contradicts", "decisive"):
            continue
        measured, envelope = said(one.measured, words), said(one.envelope, words)
        if one.rule == "memory-bits" and "memory" not in found:
            size = re.match(_SIZE, clean(one.measured))
            if size:
                found["memory"] = form.memory.format(size=figures(size[0], words))
        elif one.rule == "reported-model":
            name = words.article(clean(one.measured))
            found["name"] = form.calls_itself.format(what=name)
        elif one.rule in _COUNTS and not measured.foreign | envelope.foreign:
            text = form.instead.format(measured=measured.text, envelope=envelope.text)
            found.setdefault("count", text)
        elif one.rule == "pci-id" and (owned := _OWNED.fullmatch(clean(one.measured))):
            owner = said(owned[2], words)
            if not owner.foreign:
                name = words.article(owner.text)
                found["id"] = form.pci_owner.format(what=name)
    order = ("memory", "name", "count", "id")
    return [found[one] for one in order if one in found][:2]


def _broken(record: Record, words: Wording) -> list[str]:
    faults = [one.rule for one in record.findings if one.bearing == "fault"]
    stored = [one for one in faults if one.startswith(_STORED)]
    parts = [words.verdict.wrong_memory] if stored else []
    return parts + ([words.verdict.wrong_results] if len(stored) < len(faults) else [])


def _joined(parts: Iterable[str], words: Wording) -> str:
    parts = list(parts)
    if len(parts) < 2:  # noqa: PLR2004 - nothing to join
        return "".join(parts)
    return words.verdict.both.format(one=parts[0], other=parts[1])


def _is(record: Record, bearing: Bearing, strength: Strength | None = None) -> bool:
    return any(
        one.bearing == bearing and strength in (None, one.strength)
        for one in record.findings
    )


def _is_figure(one: Finding) -> bool:
    """Whether it tells a figure that only the field understands: told last."""
    return one.rule in _FIGURES or one.rule.endswith(("-rate", "-ratio"))


def _is_rate(one: Finding) -> bool:
    return one.rule.endswith("-rate") and one.bearing == "contradicts"
