"""Findings in plain words, in the pack's language.

Built from rule, bearing and figures; never from what a sentence seems to mean. Where
a language has no words of its own for a finding, the judge's are quoted. Decides
nothing, and says nothing that the record does not.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from string import Formatter
from typing import Final

from reports.evidence.speech import Said, figures, number, said
from reports.evidence.verdict import OWNED, SIZE, STORED, has, listed
from reports.evidence.wording import FINDINGS, Wording
from reports.record import Bearing, Finding, Outcome, Record, Strength
from reports.summary import clean

_SHARE: Final = 1e-2
"""Share of cells from which on the proof speaks of missing memory, in every pass."""
_RATES: Final = 2
"""So many rates that are too low are told one by one."""
_MOST: Final = 12
_AGREEING: Final = 6
_CUT_OFF: Final = re.compile(rf"cut off at ({SIZE}) of ({SIZE})")
_OTHER_MAKER: Final = re.compile(r"([0-9a-f:]{4,20}), another maker's card")
_MADE_FOR: Final = re.compile(r"([0-9A-Z.]{4,40}), for ([A-Z0-9][A-Z0-9-]{0,30})")
_KEPT: Final = 0.99
"""Share of the tested memory that kept its data, from which on all of it did."""
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
    if outcome == "not as claimed" and has(record, "fault", "decisive"):
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
            if end == "results" and rule.startswith(STORED):
                key = f"memory-{key}"
            fields["rate"] = Said(words.rates[name])
    if rule in _NAMES:
        for name in ("claim", "measured"):
            bare = re.sub(r"^an? ", "", clean(getattr(finding, name)))
            fields[name] = Said(words.article(bare) if bare else "")
    other = _OTHER_MAKER.fullmatch(clean(finding.measured))
    if key == "memory-bits/contradicts":
        key = f"memory-bits/{_missing(record)}"
        proven = re.match(rf"{SIZE}", clean(finding.measured))
        fields["proven"] = Said(figures(proven[0], words) if proven else "")
    if key == "proven-capacity/contradicts" and (
        record.capacity is not None and record.capacity.spilled_bytes
    ):
        key = "proven-capacity/spilled"
    elif key == "proven-capacity/contradicts" and _refused(record):
        key = "proven-capacity/refused"
    if key == "pci-id/contradicts" and other is not None:
        key, fields["id"] = "pci-id/other-maker", Said(other[1])
    return key, fields | _parsed(finding, words)


def _parsed(finding: Finding, words: Wording) -> dict[str, Said]:
    """Return the parts of what was measured: an id and whose it is, a place, a chip."""
    measured = clean(finding.measured)
    chip = measured.partition(" with ")[0]
    fields = {"chip": said(chip, words)}
    owned = OWNED.fullmatch(measured)
    made_for = _MADE_FOR.fullmatch(measured)
    if made_for is not None:
        fields |= {"id": Said(made_for[1]), "owner": said(made_for[2], words)}
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


def _refused(record: Record) -> bool:
    """Whether all that the driver gave kept its data: there was no more of it."""
    proof = record.capacity
    return (
        proof is not None
        and proof.covered_bytes > 0
        and proof.proven_bytes >= _KEPT * proof.covered_bytes
    )


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


def _is_figure(one: Finding) -> bool:
    """Whether it tells a figure that only the field understands: told last."""
    return one.rule in _FIGURES or one.rule.endswith(("-rate", "-ratio"))


def _is_rate(one: Finding) -> bool:
    return one.rule.endswith("-rate") and one.bearing == "contradicts"
