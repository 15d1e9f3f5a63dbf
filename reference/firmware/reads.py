"""Repeated reads of one chip held against one another: are they the same, where not.

Nothing of an image may be believed before several reads of it agree. Knows no format;
what the content means is told elsewhere.
"""

import hashlib
from collections.abc import Sequence
from typing import Final

from reference.firmware import lines, sayings
from reference.firmware.errors import ReadError
from reports.firmware_report import (
    READS_LIMIT,
    SIZE_LIMIT,
    Comparison,
    Difference,
    DifferenceKind,
    MapState,
    Read,
)
from reports.text import plain

_CELLS: Final = 128
_MANY: Final = 1 / 16
"""Share of a cell's bytes from which it counts as lost."""
_LINE: Final = 16
"""So many bytes with the same bit wrong are no accident."""
_ANCHOR: Final = 32
_TELLING: Final = 8
"""Different values an anchor must have."""
_WINDOW: Final = 1024
_EMPTY: Final = frozenset({0x00, 0xFF})


def compare(reads: Sequence[tuple[str, bytes]]) -> Comparison:
    """Return how the reads agree; each is a name and its bytes.

    Raises ReadError for no read, too many, an empty or too large one.
    """
    if not reads:
        raise ReadError("no read was given")
    if len(reads) > READS_LIMIT:
        raise ReadError(f"{len(reads)} reads: up to {READS_LIMIT} are compared")
    for name, data in reads:
        if not data:
            raise ReadError(f"{plain(name)}: the file is empty")
        if len(data) > SIZE_LIMIT:
            raise ReadError(
                f"{plain(name)}: larger than {SIZE_LIMIT // 2**20} MiB, which no "
                "graphics card's firmware chip is"
            )
    listed = tuple(
        Read(
            name=plain(name),
            size_bytes=len(data),
            sha256=hashlib.sha256(data).hexdigest(),
        )
        for name, data in reads
    )
    agreeing = _agreeing(listed, [data for _, data in reads])
    cell = max(1, -(-max(len(data) for _, data in reads) // _CELLS))
    base = agreeing[0]
    known: dict[str, Difference] = {}
    differences = []
    for place, (_, data) in enumerate(reads):
        if place in agreeing:
            continue
        digest = listed[place].sha256
        if digest not in known:
            known[digest] = _differ(reads[base][1], data, cell, (place, base))
        found = known[digest]
        differences.append(
            Difference(
                **{
                    name: getattr(found, name)
                    for name in found.__struct_fields__
                    if name != "read"
                },
                read=place,
            )
        )
    return Comparison(
        reads=listed,
        identical=not differences,
        agreeing=agreeing,
        differences=tuple(differences),
        cell_bytes=cell if differences else 0,
    )


def _agreeing(listed: Sequence[Read], data: Sequence[bytes]) -> tuple[int, ...]:
    """Return the places of the largest set of equal reads; not blank, if possible."""
    groups: dict[str, list[int]] = {}
    for place, read in enumerate(listed):
        groups.setdefault(read.sha256, []).append(place)

    def worth(group: list[int]) -> tuple[bool, int, int]:
        blank = lines.uniform(data[group[0]]) is not None
        return (not blank, len(group), -group[0])

    best, *others = groups.values()
    for group in others:
        best = group if worth(group) > worth(best) else best
    return tuple(best)


def _differ(good: bytes, bad: bytes, cell: int, places: tuple[int, int]) -> Difference:
    length = min(len(good), len(bad))
    left, right = good[:length], bad[:length]
    states = _map(good, bad, cell)
    if left == right:
        return Difference(
            read=places[0],
            against=places[1],
            kind="length",
            differing_bytes=0,
            map=states,
            sentence=sayings.length(len(good), len(bad)),
        )
    one = int.from_bytes(left, "little")
    other = int.from_bytes(right, "little")
    flips = one ^ other
    count = length - flips.to_bytes(length, "little").count(0)
    first = lines.first_difference(left, right)
    last = lines.last_difference(left, right)
    mask = lines.fold(flips, length, ones=False)
    risen, fallen = (flips & other).bit_count(), (flips & one).bit_count()
    kind, line, offset, sentence = _kind(
        left, right, (first, last, count, mask, bool(risen), bool(fallen))
    )
    return Difference(
        read=places[0],
        against=places[1],
        kind=kind,
        differing_bytes=count,
        first_byte=first,
        last_byte=last,
        risen_bits=risen,
        fallen_bits=fallen,
        bit_mask=mask,
        line=line,
        offset_bytes=offset,
        map=states,
        sentence=sentence,
    )


_Found = tuple[DifferenceKind, int | None, int | None, str]


def _kind(
    good: bytes, bad: bytes, facts: tuple[int, int, int, int, bool, bool]
) -> _Found:
    first, last, count, mask, rises, falls = facts
    value = lines.uniform(bad)
    if value in _EMPTY:
        return "blank", None, None, sayings.blank(ones=bool(value))
    hole = bad[first : last + 1]
    if len(hole) >= _LINE and lines.uniform(hole) in _EMPTY:
        return "dropped out", None, None, sayings.dropped(first, last)
    wire = lines.wire(mask)
    if wire and count >= _LINE and rises != falls:
        return "data line", wire[0], None, sayings.data_line(*wire, high=rises)
    stuck = lines.stuck_line(good, bad)
    if stuck:
        return "address line", stuck[0], None, sayings.address_line(*stuck)
    return _moved(good, bad, first, count) or (
        *("scattered", None, None),
        sayings.scattered(count, rises=rises, falls=falls),
    )


def _moved(good: bytes, bad: bytes, first: int, count: int) -> _Found | None:
    """Tell content that moved by a bit or by bytes."""
    if _slipped(good, bad, first):
        return "slipped", None, None, sayings.slipped(first)
    offset = _shift(good, bad, first, count)
    if offset:
        return "shifted", None, offset, sayings.shifted(first, offset)
    return None


def _map(good: bytes, bad: bytes, cell: int) -> tuple[MapState, ...]:
    longest = max(len(good), len(bad))
    return tuple(
        _cell(good[start : start + cell], bad[start : start + cell])
        for start in range(0, longest, cell)
    )


def _cell(good: bytes, bad: bytes) -> MapState:
    if good == bad:
        return "same"
    if not good or not bad:
        return "beyond"
    length = min(len(good), len(bad))
    if lines.uniform(bad) in _EMPTY:
        return "blank"
    flips = int.from_bytes(good[:length], "little") ^ int.from_bytes(
        bad[:length], "little"
    )
    wrong = length - flips.to_bytes(length, "little").count(0)
    return "many" if wrong > length * _MANY else "few"


def _slipped(good: bytes, bad: bytes, first: int) -> bool:
    """Whether the serial stream is one bit late or early after the first difference."""
    window = good[first : first + _WINDOW]
    other = bad[first : first + _WINDOW]
    bits = 8 * len(window)
    if len(window) < _ANCHOR or len(set(window)) < _TELLING:
        return False
    left, right = int.from_bytes(window, "big"), int.from_bytes(other, "big")
    inner = ((1 << (bits - 16)) - 1) & ~0xFF
    return any(not (moved ^ right) & inner for moved in (left >> 1, left << 1))


def _shift(good: bytes, bad: bytes, first: int, count: int) -> int | None:
    """Return by how many bytes the content has moved up (positive) or down."""
    step = max(_ANCHOR, (len(good) - first) // 8)
    for start in range(first, len(good) - _ANCHOR, step):
        anchor = good[start : start + _ANCHOR]
        if len(set(anchor)) < _TELLING or good.find(anchor) != start:
            continue
        found = bad.find(anchor)
        if found < 0 or found == start:
            continue
        offset = found - start
        low = max(first, first + offset, 0)
        high = min(len(bad), len(good) + offset)
        moved, there = good[low - offset : high - offset], bad[low:high]
        length = min(len(moved), len(there))
        if length < _ANCHOR:
            continue
        flips = int.from_bytes(moved, "little") ^ int.from_bytes(there, "little")
        wrong = length - flips.to_bytes(length, "little").count(0)
        if 4 * wrong < count:
            return offset
    return None
