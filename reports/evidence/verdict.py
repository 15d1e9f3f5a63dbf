"""The verdict in one sentence that a clerk understands, in the pack's language.

The judge's facts, and none besides: what its sentence names as claimed and as found is
put into the language's words. Where that sentence has another form than is known here,
it is quoted. Decides nothing.
"""

import re
from collections.abc import Sequence
from typing import Final

from reports.evidence.speech import Said, figures, said
from reports.evidence.wording import Wording
from reports.record import Bearing, Claim, Record, Strength
from reports.summary import clean
from reports.units import gib

SIZE: Final = r"[\d.]+ (?:[KMG]iB|bytes)"
"""How the judge writes a size."""
OWNED: Final = re.compile(r"(.{1,200}), an? ([A-Z0-9].{0,200})")
"""`10de:0fc6, a GK107`: an id, and whose it is."""
STORED: Final = ("memory-", "link-")
"""How the rules begin whose faults are the memory's."""
_CLAIM: Final = re.compile(
    rf"(Sold|Reported) as (?:an? )?(.{{1,200}}?)(?:,? (?:sold )?with ({SIZE}))?\. "
)
_FOUND: Final = re.compile(
    rf" Found: an? (.{{1,200}}?)(?: with ({SIZE}))?\. Not as claimed"
)
_COUNTS: Final = ("compute-units", "lane-count", "counted-units")
_MOST: Final = 2
"""At most so many things are named as found."""


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
        size = re.search(rf"Found: ({SIZE}) of working memory", judged)
        if size is None:
            return [form.as_claimed]
        found = form.nothing_against.format(size=figures(size[1], words))
        return [form.found.format(found=found), form.as_claimed]
    if outcome == "undetermined":
        doubts = has(record, "contradicts", "strong")
        return [form.doubtful if doubts else form.not_false, form.undetermined]
    if outcome == "faulty":
        found = _joined(_broken(record, words), words)
        return [form.found.format(found=found), form.faulty]
    found = _joined(_really(record, judged, words) or _against(record, words), words)
    faulty = has(record, "fault")
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
            size = re.match(SIZE, clean(one.measured))
            if size:
                found["memory"] = form.memory.format(size=figures(size[0], words))
        elif one.rule == "reported-model":
            name = words.article(clean(one.measured))
            found["name"] = form.calls_itself.format(what=name)
        elif one.rule in _COUNTS and not measured.foreign | envelope.foreign:
            text = form.instead.format(measured=measured.text, envelope=envelope.text)
            found.setdefault("count", text)
        elif one.rule == "pci-id" and (owned := OWNED.fullmatch(clean(one.measured))):
            owner = said(owned[2], words)
            if not owner.foreign:
                name = words.article(owner.text)
                found["id"] = form.pci_owner.format(what=name)
    order = ("memory", "name", "count", "id")
    return [found[one] for one in order if one in found][:_MOST]


def _broken(record: Record, words: Wording) -> list[str]:
    faults = [one.rule for one in record.findings if one.bearing == "fault"]
    stored = [one for one in faults if one.startswith(STORED)]
    parts = [words.verdict.wrong_memory] if stored else []
    return parts + ([words.verdict.wrong_results] if len(stored) < len(faults) else [])


def _joined(parts: Sequence[str], words: Wording) -> str:
    parts = list(parts)
    if len(parts) < 2:  # noqa: PLR2004 - nothing to join
        return "".join(parts)
    return words.verdict.both.format(one=parts[0], other=parts[1])


def has(record: Record, bearing: Bearing, strength: Strength | None = None) -> bool:
    return any(
        one.bearing == bearing and strength in (None, one.strength)
        for one in record.findings
    )
