"""What a person says of a card, understood: each question, and what answers mean.

Pure but for photos, which are read to be hashed. Nothing here prints or judges.
"""

import hashlib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeVar, cast, get_args

from probe.errors import UsageError
from reports.files import contents
from reports.inspection import (
    MOST_CHIPS,
    MOST_PHOTOS,
    MOST_THINGS,
    Inspection,
    Lanes,
    Output,
    Photo,
    Plug,
    Surface,
)
from reports.text import plain

_One = TypeVar("_One")

PHOTO_LIMIT: Final = 256 * 2**20
_SHORT: Final = 256
_NONE: Final = {"none", "no", "-", "0"}
_TIMES: Final = re.compile(
    r"^(\d{1,2})\s*[x\u00d7*]?\s+(.+)$|^(\d{1,2})[x\u00d7*](.+)$"
)
_DENSITY: Final = re.compile(r"^(\d{1,6})\s*(g|m)(?:bits?|b)?$", re.IGNORECASE)
_WIDTHS: Final = (4, 8, 16, 32, 64)
_LEAST_MBIT: Final = 64
_MOST_MBIT: Final = 2**18

_OUTPUTS: Final[Mapping[str, Output]] = {
    "displayport": "DP", "minidp": "mini-DP", "minidisplayport": "mini-DP",
    "minihdmi": "mini-HDMI", "dsub": "VGA", "hd15": "VGA", "usbc": "USB-C",
    "svideo": "S-Video", "tv": "S-Video",
    **{re.sub("[^a-z0-9]", "", one.casefold()): one for one in get_args(Output)},
}  # fmt: skip
_PLUGS: Final[Mapping[str, Plug]] = {
    "12vhpwr": "16-pin", "12v2x6": "16-pin", "molex": "4-pin", "6+2pin": "8-pin",
    "cpu8pin": "CPU 8-pin", "eps": "CPU 8-pin",
    **{one.casefold().replace("-", ""): one for one in ("4-pin", "6-pin", "8-pin",
       "12-pin", "16-pin")},
    "4": "4-pin", "6": "6-pin", "8": "8-pin", "12": "12-pin", "16": "16-pin",
}  # fmt: skip


class AnswerError(ValueError):
    """An answer that means nothing; the message says what would."""


@dataclass(frozen=True, kw_only=True)
class Question:
    """One thing to look at."""

    field: str
    option: str
    asks: str
    understand: Callable[[str], object]
    beside: str = ""
    """A further field, asked only where this one was answered."""


def text(said: str) -> str:
    """Return one harmless line."""
    line = plain(said, _SHORT).strip()
    if not line:
        raise AnswerError("no text was given")
    return line


def surface(said: str) -> Surface:
    """Return the state of a marking."""
    word = said.strip().casefold()
    for one in get_args(Surface):
        if word == one:
            return cast("Surface", one)
    raise AnswerError(f"{plain(said, 40)!r} is none of clear, unreadable, tampered")


def outputs(said: str) -> tuple[Output, ...]:
    """Return sockets out of `DVI-D, HDMI, 3 x DP`; none out of `none`."""
    return _listed(said, _OUTPUTS, "a socket", "VGA, DVI-D, DVI-I, HDMI, DP, mini-DP")


def plugs(said: str) -> tuple[Plug, ...]:
    """Return power connectors out of `8-pin, 6-pin`; none out of `none`."""
    return _listed(said, _PLUGS, "a power connector", "6-pin, 8-pin, 12-pin, 16-pin")


def chips(said: str) -> int:
    """Return a number of chips."""
    word = said.strip()
    if word.isascii() and word.isdigit() and len(word) <= 4:  # noqa: PLR2004 - enough
        number = int(word)
        if 1 <= number <= MOST_CHIPS:
            return number
    raise AnswerError(
        f"{plain(said, 40)!r} is no number of chips from 1 to {MOST_CHIPS}"
    )


def density(said: str) -> int:
    """Return Mbit out of `8Gbit`. Bytes are refused: chips are told in bits."""
    found = _DENSITY.match(said.strip())
    if found and not said.strip().endswith("B"):
        mbit = int(found[1]) * (1024 if found[2].casefold() == "g" else 1)
        if _LEAST_MBIT <= mbit <= _MOST_MBIT:
            return mbit
    raise AnswerError(
        f"{plain(said, 40)!r} is no size of a chip; write it in bits, as 8Gbit (1 GiB)"
    )


def width(said: str) -> int:
    """Return data bits of a chip."""
    word = said.strip().casefold().removeprefix("x").removesuffix("bits").strip()
    if word in {str(one) for one in _WIDTHS}:
        return int(word)
    raise AnswerError(f"{plain(said, 40)!r} is no width of a chip: 4, 8, 16, 32 or 64")


def contacts(said: str) -> Lanes:
    """Return lanes out of `16` or `x16`."""
    word = said.strip().casefold().removeprefix("x")
    for one in get_args(Lanes):
        if word == str(one):
            return cast("Lanes", one)
    raise AnswerError(f"{plain(said, 40)!r} is no number of lanes: 1, 4, 8 or 16")


def labels(said: str) -> tuple[str, ...]:
    """Return labels, parted by semicolons; none out of `none`."""
    if said.strip().casefold() in _NONE:
        return ()
    found = tuple(text(one) for one in said.split(";") if one.strip())
    if len(found) > MOST_THINGS:
        raise AnswerError(f"more than {MOST_THINGS} labels")
    return found


def photos(names: tuple[str, ...]) -> tuple[Photo, ...]:
    """Return name, size and hash of files. Raises AnswerError for what is no file."""
    if len(names) > MOST_PHOTOS:
        raise AnswerError(f"more than {MOST_PHOTOS} photos")
    found: dict[str, Photo] = {}
    for name in names:
        if not name.strip():
            raise AnswerError("no file was named")
        path = Path(name.strip()).expanduser()
        try:
            data = contents(path, PHOTO_LIMIT)
        except (OSError, RuntimeError) as error:
            why = getattr(error, "strerror", None) or str(error)
            raise AnswerError(f"{plain(name, 200)}: cannot be read: {why}") from None
        if not data or len(data) > PHOTO_LIMIT:
            size = "larger than 256 MiB" if data else "empty"
            raise AnswerError(f"{plain(name, 200)}: {size}, no photo")
        digest = hashlib.sha256(data).hexdigest()
        found[digest] = Photo(
            name=plain(path.name) or "photo", size_bytes=len(data), sha256=digest
        )
    return tuple(found.values())


def photo_list(said: str) -> tuple[Photo, ...]:
    """Return photos named in one line, parted by semicolons."""
    return photos(tuple(one for one in said.split(";") if one.strip()))


QUESTIONS: Final = (
    Question(
        field="die_surface", option="--die-state", understand=surface,
        asks="The marking on the graphics chip, if its cooler is off already: clear, "
        "unreadable, or tampered (ground off, painted over, covered)?",
    ),
    Question(
        field="die", option="--die", understand=text,
        asks="What does it say, the line with the chip's name first (GP104-200-A1)?",
    ),
    Question(
        field="outputs", option="--outputs", understand=outputs,
        asks='Sockets for displays ("DVI-D, HDMI, 3 x DP"; "none")?',
    ),
    Question(
        field="plugs", option="--plugs", understand=plugs,
        asks='Power connectors on the card ("8-pin, 6-pin"; "none")?',
    ),
    Question(
        field="memory_chips", option="--memory-chips", understand=chips,
        asks="How many memory chips are on it, both sides of the board together?",
    ),
    Question(
        field="memory_marking", option="--memory-marking", understand=text,
        asks="The part number on one of them (Micron prints a short code: its own "
        "site tells the part number)?",
    ),
    Question(
        field="memory_density_mbit", option="--memory-density", understand=density,
        asks="The size of one by its maker's part-number guide, in bits (8Gbit)?",
    ),
    Question(
        field="memory_width_bits", option="--memory-width", understand=width,
        asks="Its data bits by that guide (32, 16)?",
    ),
    Question(
        field="contacts", option="--contacts", understand=contacts,
        asks="For how many lanes has the edge connector contacts: 1, 4, 8 or 16?",
    ),
    Question(
        field="labels", option="--label", understand=labels,
        asks="What do labels and prints on the board say (parted by ;)?",
    ),
    Question(
        field="photos", option="--photo", understand=photo_list,
        asks="Photos to attach (files, parted by ;)? Their name and hash are kept.",
    ),
)  # fmt: skip


def from_options(told: Mapping[str, object]) -> Inspection | None:
    """Return what options say; None where none of them was given.

    Raises UsageError naming the option.
    """
    found: dict[str, object] = {}
    for one in QUESTIONS:
        said = told.get(one.option)
        if said is None:
            continue
        try:
            if isinstance(said, list):
                found[one.field] = _several(one.field, said)
            else:
                found[one.field] = one.understand(str(said))
        except AnswerError as error:
            raise UsageError(f"{one.option}: {error}") from None
    if found.get("die_surface") == "unreadable" and "die" in found:
        raise UsageError(
            "--die: a marking was given and called unreadable; leave one of them out"
        )
    return made(found) if found else None


def made(found: Mapping[str, object]) -> Inspection:
    """Return an inspection with these fields."""
    return Inspection(**found)  # type: ignore[arg-type]  # each as its question gives


def _several(field: str, said: list[str]) -> object:
    if field == "photos":
        return photos(tuple(said))
    return tuple(one for each in said for one in labels(each))[:MOST_THINGS]


def _listed(
    said: str, known: Mapping[str, _One], what: str, offer: str
) -> tuple[_One, ...]:
    if said.strip().casefold() in _NONE:
        return ()
    found: list[_One] = []
    for part in re.split("[,;]", said):
        word, count = part.strip(), 1
        if not word:
            continue
        many = _TIMES.match(word)
        if many and _key(word) not in known:
            count, word = int(many[1] or many[3]), many[2] or many[4]
        one = known.get(_key(word))
        if one is None or not count:
            raise AnswerError(f"{plain(word, 40)!r} is not {what}; as {offer}, or none")
        found += [one] * count
    if not found or len(found) > MOST_THINGS:
        raise AnswerError(f"nothing was named; as {offer}, or none")
    return tuple(found)


def _key(word: str) -> str:
    return re.sub(r"[\s\-_.]", "", word.casefold())
