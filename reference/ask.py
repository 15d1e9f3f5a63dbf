"""What a person may type to find a card: model, chip, die marking, PCI id, target.

Understands text and asks the table; shows nothing. Every form that systems print an id
in is read: `10de:1b81`, `0x10de 0x1b81`, `VEN_10DE&DEV_1B81`, a bare `1b81`.
"""

import re
from typing import Literal

from msgspec import Struct

from reference import names
from reference.rows import Seen, Variant
from reference.table import Table

_VENDORS = ("10de", "1002", "8086")
_PAIR = re.compile(
    r"^\W*(?:0x)?(10de|1002|8086)[\s:.,\-]+(?:0x)?([0-9a-f]{4})\b", re.IGNORECASE
)
_BRACKETS = re.compile(r"\[(10de|1002|8086):([0-9a-f]{4})\]", re.IGNORECASE)
_WINDOWS = re.compile(r"VEN_([0-9A-F]{4})&DEV_([0-9A-F]{4})", re.IGNORECASE)
_MODALIAS = re.compile(r"^pci:v0000([0-9A-F]{4})d0000([0-9A-F]{4})", re.IGNORECASE)
_BARE = re.compile(r"^(?:0x)?([0-9a-f]{4})$", re.IGNORECASE)
_REVISION = re.compile(r"(?:\brev(?:ision)?[ _]?)(?:0x)?([0-9a-f]{2})\b", re.IGNORECASE)
_WINDOWS_REVISION = re.compile(r"&REV_([0-9A-F]{2})", re.IGNORECASE)
_SUBSYSTEM = re.compile(r"SUBSYS_([0-9A-F]{4})([0-9A-F]{4})", re.IGNORECASE)

Kind = Literal["name", "id", "chip", "marking"]


class Answer(Struct, frozen=True, kw_only=True):
    """What a text means, and what to offer where it means nothing."""

    kind: Kind
    rows: tuple[Variant, ...] = ()
    chips: tuple[str, ...] = ()
    """The chips that the text itself names, or whose id window holds it."""
    seen: tuple[Seen, ...] = ()
    """Cards known to exist whose details are not known."""
    near: tuple[str, ...] = ()


def ask(table: Table, text: str) -> Answer:
    """Return what `text` means: ids before names, names before bare numbers."""
    text = names.short(text)
    forms = (_PAIR, _BRACKETS, _WINDOWS, _MODALIAS)
    pair = next(filter(None, (form.search(text) for form in forms)), None)
    if pair:
        return _by_id(table, f"{pair[1]}:{pair[2]}".casefold(), text)
    rows = table.resolve(text)
    chips = table.chips_named(text)
    if rows or chips:
        models = {row.model for row in rows}
        return Answer(
            kind="chip" if chips else "name",
            rows=rows,
            chips=chips,
            seen=tuple(
                one for one in table.seen if one.model in models or one.chip in chips
            ),
        )
    return _marked(table, text) or _bare(table, text) or _unknown(table, text)


def _by_id(table: Table, pci_id: str, text: str) -> Answer:
    revision = _REVISION.search(text) or _WINDOWS_REVISION.search(text)
    board = _SUBSYSTEM.search(text)
    rows = table.by_pci(
        pci_id,
        subsystem=f"{board[2]}:{board[1]}" if board else None,
        revision=revision[1] if revision else None,
    )
    chip = table.chip_by_window(pci_id)
    return Answer(
        kind="id",
        rows=rows,
        chips=(chip,) if chip else (),
        seen=tuple(one for one in table.seen if one.pci == pci_id),
        near=() if rows else _near_ids(table, pci_id),
    )


def _near_ids(table: Table, pci_id: str, limit: int = 5) -> tuple[str, ...]:
    """Return the ids of the same vendor that lie next to one that is unknown."""
    vendor, device = pci_id.split(":")
    known = {pci: row.model for row in table.variants for pci in row.pci}
    block = [
        (abs(int(pci[5:], 16) - int(device, 16)), pci)
        for pci in known
        if pci.startswith(vendor) and int(pci[5:], 16) >> 7 == int(device, 16) >> 7
    ]
    return tuple(f"{pci} ({known[pci]})" for _, pci in sorted(block)[:limit])


def _marked(table: Table, text: str) -> Answer | None:
    """Read a die's marking: the chip's name, then what tells its grade.

    `GP104-200-A1` is a GP104, `Navi 21 XTX` a Navi 21.
    """
    parts = re.split(r"([\s\-]+)", text.strip())
    for length in range(len(parts) - 2, 0, -2):
        chips = table.chips_named("".join(parts[:length]))
        if chips:
            return Answer(
                kind="marking",
                chips=chips,
                rows=tuple(row for row in table.variants if row.chip in chips),
                seen=tuple(one for one in table.seen if one.chip in chips),
            )
    return None


def _bare(table: Table, text: str) -> Answer | None:
    device = _BARE.match(text.strip())
    if not device:
        return None
    answers = [
        _by_id(table, f"{vendor}:{device[1].casefold()}", "") for vendor in _VENDORS
    ]
    known = [answer for answer in answers if answer.rows or answer.seen]
    if not known:
        return None
    return Answer(
        kind="id",
        rows=tuple(row for answer in known for row in answer.rows),
        chips=tuple(chip for answer in known for chip in answer.chips),
        seen=tuple(one for answer in known for one in answer.seen),
    )


def _unknown(table: Table, text: str) -> Answer:
    wanted = names.key(text)
    return Answer(
        kind="name",
        near=table.near(text),
        seen=tuple(one for one in table.seen if names.key(one.model) == wanted),
    )
