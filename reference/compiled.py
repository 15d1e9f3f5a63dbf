"""The whole table in one file, ready to use: a copy of the TOML files, never a source.

Packs and unpacks; what stands in it is gathered by `gather.py`, and written by
`python -m reference.compile`. A copy that is broken, or of other TOML files, or of
rows of another shape, is as good as none.
"""

import hashlib

import msgspec
from msgspec import Struct

from reference import names
from reference.rows import Architecture, Chip, Mark, Seen, Source, Variant

NAME = "table.msgpack"


class Content(Struct, frozen=True, kw_only=True):
    """All that the data files say."""

    sha256: str
    """Identifies the TOML files that this was made of."""
    variants: tuple[Variant, ...] = ()
    chips: dict[str, Chip]
    architectures: dict[str, Architecture]
    sources: dict[str, Source]
    marks: dict[str, Mark] = {}
    """By chip, also by chips that `chips` lacks."""
    seen: tuple[Seen, ...] = ()
    names: dict[str, tuple[int, ...]] | None = None
    """Which variants, by position, a comparable name means; None: not made yet."""


def index(content: Content) -> dict[str, tuple[int, ...]]:
    """Return which variants each name means: model, alias, chip, compiler target."""
    found: dict[str, dict[int, None]] = {}
    for place, row in enumerate(content.variants):
        chip = content.chips[row.chip]
        for name in (row.model, *row.aliases, row.chip, *chip.names, *chip.gfx):
            found.setdefault(names.key(name), {})[place] = None
    return {name: tuple(places) for name, places in found.items()}


def pack(content: Content) -> bytes:
    """Return the file: its own sha256, the shape of rows, then the content."""
    made = msgspec.structs.replace(content, names=index(content))
    body = _shape() + msgspec.msgpack.encode(made)
    return hashlib.sha256(body).digest() + body


def unpack(data: bytes, sha256: str) -> Content | None:
    """Return the content, None where it is not a sound copy of the files `sha256`."""
    check, body = data[:32], data[32:]
    shape = _shape()
    if hashlib.sha256(body).digest() != check or not body.startswith(shape):
        return None
    try:
        content = msgspec.msgpack.decode(memoryview(body)[len(shape) :], type=Content)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        return None
    return content if content.sha256 == sha256 else None


def _shape() -> bytes:
    """Return what tells rows of one version of this program from another's."""
    kinds = (Content, Variant, Chip, Architecture, Source, Seen, Mark)
    fields = "\n".join(
        " ".join((kind.__name__, *kind.__struct_fields__)) for kind in kinds
    )
    return hashlib.sha256(fields.encode()).digest()
