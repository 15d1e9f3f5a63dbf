"""The pack's page, and what such a page carries: record, case, the smaller photos.

Out of a page comes all that it was made from, and from that the same page again. No
script, no request; escaping is the template engine's. Says nothing of its own: words
are the language's, facts the record's and the case's.
"""

import base64
import binascii
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from typing import Final

from reports import codec
from reports import words as english
from reports.carried import carried, link_of
from reports.evidence import case as cases
from reports.evidence.case import Case, Picture
from reports.evidence.errors import EvidenceError
from reports.evidence.findings import paragraphs, row_title
from reports.evidence.languages import wording
from reports.evidence.letter import blocks_of
from reports.evidence.listing import kept
from reports.evidence.speech import Said, day, number, said
from reports.evidence.verdict import claim_text, listed, verdict
from reports.evidence.wording import TITLES, Wording
from reports.record import Record
from reports.summary import Row, Summary, clean, summarise
from reports.templating import style_of, template
from reports.text import named, tied

PAGE_LIMIT: Final = 128 * 2**20
"""Largest page read, in bytes."""
_ROWS: Final = 20
_RATES: Final = 2
"""So many rates that are too low are shown; the report has all."""
_PICTURE: Final = "data:image/jpeg;base64,"
_CARRIED: Final = re.compile(rb'<img src="data:image/jpeg;base64,([A-Za-z0-9+/=]+)"')


@dataclass(frozen=True, slots=True)
class Opened:
    """What a page carries."""

    case: Case
    record: Record
    data: bytes
    """The record's bytes as they are stored in the page."""
    smalls: tuple[bytes, ...]
    """The smaller photos, in the case's order."""


def render_page(
    case: Case, record: Record, data: bytes, smalls: Sequence[bytes]
) -> str:
    """Return the page. `data` are the record's bytes, embedded as they are.

    Raises EvidenceError where the case does not fit its schema.
    """
    words = wording(case.language)
    summary = summarise(record)
    stored = cases.encode(case)
    text = "\n\n".join(blocks_of(case, record, words))
    return template("evidence.html.j2").render(
        case=case,
        words=words.page,
        language=words.code,
        style=style_of("base.css", "evidence.css", "margin.css"),
        summary=summary,
        sentence=_tied(verdict(record, words)),
        practice=_practice(record, words),
        notes=_notes(case, record, words),
        listing=kept(case.listing.text),
        cut=_cut(case, words),
        rows=[_row(row, words) for row in _chosen(summary)],
        every=number(len(summary.rows), words),
        findings=[
            replace(one, said=_tied(one.said)) for one in paragraphs(record, words)
        ],
        photos=[
            _photo(one, small, place, words)
            for place, (one, small) in enumerate(
                zip(case.photos, smalls, strict=True), start=1
            )
        ],
        untested=_untested(record, summary, words),
        settle=[_constant(one, words) for one in summary.settle],
        steps=[_marked(one) for one in words.page.check_steps],
        cautions=_cautions(record, words),
        letter=text,
        no_letter=None if text else _no_letter(case, summary, words),
        files=_files(case, words),
        facts=_facts(case, record, words),
        label=clean(record.card.label),
        digest=sha256(data).hexdigest(),
        record_link=link_of(data),
        case_link=link_of(stored),
        size=words.page.bytes.format(size=number(len(data), words)),
        case_size=words.page.bytes.format(size=number(len(stored), words)),
    )


def open_page(page: bytes, name: str = "page") -> Opened:
    """Return what a page carries. Raises RecordError with `name`."""
    if len(page) > PAGE_LIMIT:
        raise EvidenceError(f"{named(name)}: larger than {PAGE_LIMIT} bytes, not read")
    data = carried(page)
    case = cases.decode(carried(page, "case", "case"), name)
    found: dict[str, bytes] = {}
    for match in _CARRIED.finditer(page):
        try:
            small = base64.b64decode(match[1], validate=True)
        except (binascii.Error, ValueError):
            continue  # its hash will be missed
        found[sha256(small).hexdigest()] = small
    lost = [one.file for one in case.photos if one.small_sha256 not in found]
    if lost:
        raise EvidenceError(
            f"{named(name)}: the photo {lost[0]} in the page is damaged or gone"
        )
    smalls = tuple(found[one.small_sha256] for one in case.photos)
    return Opened(case, codec.decode(data, name), data, smalls)


def _tied(one: Said) -> Said:
    return replace(one, text=tied(one.text))


def _practice(record: Record, words: Wording) -> str | None:
    if not record.practice:
        return None
    condition = clean(record.practice_condition or "") or "?"
    return words.page.practice.format(condition=condition)


def _notes(case: Case, record: Record, words: Wording) -> list[str]:
    """Return how the claim came about, and what the listing names beside it."""
    claim, form = listed(record), words.page
    told = claim_text(claim, words) if claim else ""
    notes = [form.interrupted] if record.interrupted else []
    if case.held == "none":
        notes.append(form.not_held)
    elif case.held == "option":
        notes.append(form.judged_option)
    elif case.held == "listing":
        notes.append(form.judged_listing.format(claim=told))
    if case.other_models and claim is not None:
        models = ", ".join(map(clean, case.other_models))
        notes.append(form.other_models.format(models=models, claim=told))
    return notes


def _cut(case: Case, words: Wording) -> str | None:
    whole, shown = case.listing.signs, len(case.listing.text)
    if whole <= cases.LISTING_SIGNS:
        return None
    return words.page.cut.format(signs=number(whole, words), kept=number(shown, words))


def _chosen(summary: Summary) -> tuple[Row, ...]:
    """Return the rows that decide, and what else speaks strongly.

    That is against the card; for it, where it is as claimed: rates tell little then.
    """
    weak = english.STRENGTH["supporting"]
    right = summary.outcome == "as claimed"
    telling = [
        row
        for row in summary.rows
        if row.decides
        or (row.against and row.strength != weak)
        or (right and row.strength != weak and row.rule in TITLES)
    ]
    slow = [row for row in telling if row.rule.endswith("-rate") and row.against]
    return tuple(row for row in telling if row not in slow[_RATES:])[:_ROWS]


def _row(row: Row, words: Wording) -> dict[str, object]:
    return {
        "title": row_title(row.rule, row.title, words),
        "mark": row.mark,
        "against": row.against,
        "decides": row.decides,
        "cells": [
            (head, _tied(said(text, words)))
            for head, text in (
                (words.page.claimed, row.claimed),
                (words.page.found, row.found),
                (words.page.genuine, row.genuine),
            )
        ],
    }


def _photo(one: Picture, small: bytes, place: int, words: Wording) -> dict[str, object]:
    form = words.page
    told = {True: form.place_removed, False: form.no_place, None: form.place_unknown}
    return {
        "src": _PICTURE + base64.b64encode(small).decode("ascii"),
        "title": form.photo.format(number=place),
        "shows": form.shows[one.shows] if one.shows else "",
        "lines": [
            form.photo_file.format(
                file=one.file,
                width=number(one.width, words),
                height=number(one.height, words),
            ),
            told[one.location],
            *([form.inspected] if one.inspected else []),
        ],
    }


def _untested(record: Record, summary: Summary, words: Wording) -> list[Said]:
    """Return what was not tested, each once."""
    form = words.page
    own = [
        text
        for text, lacks in (
            (form.not_read, record.firmware_report is None),
            (form.not_looked, record.inspection is None),
            (form.not_soaked, record.soak is None),
        )
        if lacks
    ]
    same = ("Its firmware: no read", "The card itself: nobody")
    told = [
        _constant(one, words) for one in summary.unchecked if not one.startswith(same)
    ]
    return [*told, *map(Said, own)]


def _constant(text: str, words: Wording) -> Said:
    """Return a judge's sentence that is always the same, else that sentence."""
    known = words.unchecked.get(text) or words.settle.get(text)
    if known is not None:
        return Said(known)
    return Said(text, foreign=words.code != "en")


def _marked(text: str) -> list[tuple[str, bool]]:
    """Return a text in pieces, and whether each is to be typed: between back ticks."""
    return [(part, place % 2 == 1) for place, part in enumerate(text.split("`"))]


def _cautions(record: Record, words: Wording) -> list[str]:
    form = words.page
    outcome = record.verdict.outcome if record.verdict else None
    first = [] if outcome == "as claimed" else [form.caution_keep]
    if outcome == "faulty":
        first.append(form.caution_faulty)
    return [*first, *form.caution_lines]


def _no_letter(case: Case, summary: Summary, words: Wording) -> str:
    right = case.held != "none" and summary.outcome == "as claimed"
    return words.page.no_letter_right if right else words.page.no_letter_not_held


def _files(case: Case, words: Wording) -> list[tuple[str, str, str]]:
    """Return name, size and hash of every file, and of the photos' originals."""
    form = words.page
    rows = [(one.name, one.size_bytes, one.sha256) for one in case.files]
    rows += [(one.file, one.size_bytes, one.sha256) for one in case.photos]
    for one in case.photos:
        source = one.original
        name = form.original.format(file=one.file)
        rows.append((name, source.size_bytes, source.sha256))
    return [(name, number(size, words), digest) for name, size, digest in rows]


def _facts(case: Case, record: Record, words: Wording) -> list[tuple[str, str]]:
    form = words.page
    depths = {
        "quick": form.quick,
        "standard": form.standard,
        "thorough": form.thorough,
    }
    started = clean(record.started)
    facts = [
        (form.card, clean(record.card.label)),
        (form.tested, f"{day(started[:10], words)}, {started[11:16]} UTC"),
        (form.depth, depths[record.depth]),
        (form.program, clean(f"cardassay {record.program.version}")),
        (form.table, clean(record.program.table_version or "")),
        (form.made, day(case.made, words)),
    ]
    return [(term, text) for term, text in facts if text]
