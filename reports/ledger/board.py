"""How a board is told from others without a serial number. Pure.

A record holds none (see `reports.layers`): it holds ids, the firmware's name and
images, sockets, neighbours in the slot. All cards of one make share them, and firmware
can write most. So they can tell two cards apart; they never prove one the same.
"""

import re
from hashlib import sha256
from typing import Final

import msgspec

from reports.base import Base
from reports.record import Claim, Record

_ORDER: Final = ("pci", "nvml", "driver", "opencl")
"""Whose word counts first."""
_OWN: Final = re.compile(r"\b(uuid|serial( number)?)\b", re.IGNORECASE)
_LIKE: Final = 0.1
"""Drivers hold back memory for themselves, one more than another."""
_CHIP: Final = "chip's PCI id"


class Board(Base, frozen=True, kw_only=True):
    """What a card answers, put together from all of its layers. None: not told."""

    pci_id: str | None = None
    subsystem: str | None = None
    revision: str | None = None
    firmware: str | None = None
    memory_bytes: int | None = None
    cores: int | None = None
    outputs: tuple[str, ...] = ()
    functions: tuple[str, ...] = ()
    images: tuple[str, ...] = ()
    """SHA-256 of each image of its firmware."""
    number_sha256: str | None = None
    """Hash of its own number, where a layer ever tells one. Never the number."""


class Likeness(Base, frozen=True, kw_only=True):
    """Two boards beside each other, in words."""

    agree: tuple[str, ...]
    differ: tuple[str, ...]
    """What two cards differ in, or one whose firmware was written anew."""


def board_of(record: Record) -> Board:
    """Return what a record tells of the board."""
    claims = sorted(
        (one for one in record.claims if one.layer in _ORDER),
        key=lambda one: _ORDER.index(one.layer),
    )
    layers = record.card.layers
    return Board(
        pci_id=_text(claims, "pci_id"),
        subsystem=_text(claims, "subsystem"),
        revision=_text(claims, "revision"),
        firmware=_text(claims, "firmware"),
        memory_bytes=max((one.memory_bytes or 0 for one in claims), default=0) or None,
        cores=next((one.cores for one in claims if one.cores), None),
        outputs=tuple(sorted(layers.outputs)) if layers else (),
        functions=tuple(sorted(one.pci_id.lower() for one in layers.functions))
        if layers
        else (),
        images=tuple(sorted({one.sha256.lower() for one in layers.images}))
        if layers
        else (),
        number_sha256=_number(record),
    )


def written(board: Board) -> str:
    """Return a board as the one text that stands for it."""
    return msgspec.json.encode(board).decode("utf-8")


def read(text: str) -> Board:
    """Return the board that :func:`written` wrote."""
    return msgspec.json.decode(text, type=Board)


def compare(one: Board, other: Board) -> Likeness:
    """Return what two boards share and what not; what is not told says nothing."""
    agree: list[str] = []
    differ: list[str] = []
    for what, mine, theirs in (
        (_CHIP, one.pci_id, other.pci_id),
        ("subsystem", one.subsystem, other.subsystem),
        ("revision", one.revision, other.revision),
        ("firmware", one.firmware, other.firmware),
        ("lanes", one.cores, other.cores),
        ("sockets", one.outputs, other.outputs),
        ("neighbours in its slot", one.functions, other.functions),
    ):
        if mine and theirs:
            (agree if mine == theirs else differ).append(what)
    if one.images and other.images:
        shared = set(one.images) & set(other.images)
        (agree if shared else differ).append("image of its firmware")
    if one.memory_bytes and other.memory_bytes:
        low, high = sorted((one.memory_bytes, other.memory_bytes))
        (agree if low >= high * (1 - _LIKE) else differ).append("memory it reports")
    return Likeness(agree=tuple(agree), differ=tuple(differ))


def resembles(one: Board, other: Board) -> bool:
    """Whether nothing tells the two apart, and at least chip and maker are the same."""
    alike = compare(one, other)
    return not alike.differ and {_CHIP, "subsystem"} <= set(alike.agree)


def _text(claims: list[Claim], name: str) -> str | None:
    for claim in claims:
        said: str | None = getattr(claim, name)
        if said:
            return said.strip().lower()
    return None


def _number(record: Record) -> str | None:
    layers = record.card.layers
    for seen in layers.further if layers else ():
        if _OWN.search(seen.name) and seen.value.strip():
            return sha256(f"card {seen.value.strip().lower()}".encode()).hexdigest()
    return None
