"""Data files into rows: strict, and every mistake of a file told at once.

Reads TOML and shapes it; what holds across files is checked in `reference/checks.py`.
"""

import re
import tomllib
import typing
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from reference.rows import Row

Shape = TypeVar("Shape")

_MOST_PARTS = 8
_TOKEN = re.compile(
    r'''"""(?:[^"\\]|\\.|"(?!""))*+"""'''
    r"""|'''(?:[^']|'(?!''))*+'''"""
    r"""|"(?:[^"\\\n]|\\.)*+"|'[^'\n]*+'|\#[^\n]*+|[.=,\n\[\]{}"']""",
    re.DOTALL,
)
"""Strings and comments of TOML 1.0 as wholes, what separates keys, and their dots."""


def parse(path: Path, data: bytes, mistakes: list[str]) -> dict[str, Any]:
    """Return the TOML table that `data` holds; tells of a syntax error once."""
    try:
        text = data.decode()
        if not _is_deep(text):
            return tomllib.loads(text)
        mistakes.append(f"{path.name}: a key of more than {_MOST_PARTS + 1} parts")
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        mistakes.append(f"{path.name}: not TOML: {error}")
    except ValueError:  # the parser's own for a number of thousands of digits
        mistakes.append(f"{path.name}: not TOML: a number of too many digits")
    return {}


def _is_deep(text: str) -> bool:
    """Whether a key has more parts than any of ours: parsing takes their square."""
    parts = 0
    for found in _TOKEN.finditer(text):
        match found[0]:
            case ".":
                parts += 1
                if parts > _MOST_PARTS:
                    return True
            case '"' | "'":  # never closed: the parser comes no further either
                return False
            case "=" | "," | "\n" | "[" | "]" | "{" | "}":
                parts = 0
            case _:
                continue
    return False


def shape(
    raw: object, kind: type[Shape], place: str, mistakes: list[str]
) -> Shape | None:
    """Return `raw` as `kind`, or None after telling everything wrong with it."""
    try:
        return msgspec.convert(raw, kind)
    except msgspec.ValidationError:
        _blame(raw, kind, place, mistakes)
        return None


def _blame(raw: object, kind: Any, place: str, mistakes: list[str]) -> None:  # noqa: ANN401 - a type form
    """Descend to the leaves that fail and tell of each."""
    kind = _bare(kind, raw)
    if isinstance(kind, type) and issubclass(kind, Row):
        if isinstance(raw, dict):
            _blame_fields(raw, kind, place, mistakes)
            return
    elif typing.get_origin(kind) is tuple and isinstance(raw, list):
        arguments = typing.get_args(kind)
        if arguments[-1] is Ellipsis and raw:
            for number, item in enumerate(raw, 1):
                _leaf(item, arguments[0], f"{place}[{number}]", mistakes)
            return
    elif typing.get_origin(kind) is dict and isinstance(raw, dict):
        key_kind, value_kind = typing.get_args(kind)
        for name, value in raw.items():
            _leaf(name, key_kind, f"{place}.{name} (key)", mistakes)
            _leaf(value, value_kind, f"{place}.{name}", mistakes)
        return
    try:
        msgspec.convert(raw, kind)
    except msgspec.ValidationError as error:
        mistakes.append(f"{place}: {_words(error)}")


def _blame_fields(
    raw: dict[str, Any], kind: type[Row], place: str, mistakes: list[str]
) -> None:
    fields = {field.encode_name: field for field in msgspec.structs.fields(kind)}
    mistakes += [f"{place}.{name}: unknown key" for name in raw if name not in fields]
    for name, field in fields.items():
        if name in raw:
            _leaf(raw[name], field.type, f"{place}.{name}", mistakes)
        elif field.required:
            mistakes.append(f"{place}.{name}: missing")


def _leaf(raw: object, kind: Any, place: str, mistakes: list[str]) -> None:  # noqa: ANN401 - a type form
    try:
        msgspec.convert(raw, kind)
    except msgspec.ValidationError:
        _blame(raw, kind, place, mistakes)


def _bare(kind: Any, raw: object) -> Any:  # noqa: ANN401 - a type form
    """Strip what stands around a type: `Annotated` of a container, `| None`."""
    if typing.get_origin(kind) is typing.Annotated:
        inner = typing.get_args(kind)[0]
        if typing.get_origin(inner) is tuple and isinstance(raw, list) and raw:
            return inner
    return kind


def _words(error: msgspec.ValidationError) -> str:
    return str(error).split(" - at `$")[0]
