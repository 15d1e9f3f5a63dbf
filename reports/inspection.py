"""What a person saw on a card: types alone.

None: nobody looked, or nobody could tell. An empty tuple: looked at, and there is none.
Photos are named and hashed, never copied: what a camera wrote into them stays where it
is. Judges nothing; imports nothing of a record.
"""

from typing import Annotated, Literal

from msgspec import Meta

from reports.base import Base, Count, Text

Digest = Annotated[str, Meta(pattern=r"^[0-9a-f]{64}$")]
Output = Literal[
    "VGA", "DVI-A", "DVI-I", "DVI-D", "HDMI", "mini-HDMI", "DP", "mini-DP", "USB-C",
    "S-Video", "other",
]  # fmt: skip
"""Sockets for displays, as the trade calls them."""
Plug = Literal["4-pin", "6-pin", "8-pin", "12-pin", "16-pin", "CPU 8-pin"]
Surface = Literal["clear", "unreadable", "tampered"]
"""Of a marking. Tampered: ground off, painted over or under a sticker."""
Lanes = Literal[1, 4, 8, 16]

MOST_CHIPS = 64
MOST_THINGS = 32
MOST_PHOTOS = 64

Short = Annotated[str, Meta(min_length=1, max_length=256)]
Chips = Annotated[int, Meta(ge=1, le=MOST_CHIPS)]
Bits = Annotated[int, Meta(ge=1, le=4096)]
Density = Annotated[int, Meta(ge=64, le=2**18)]


class Photo(Base, frozen=True, kw_only=True):
    """A picture that was shown: enough to know the file again."""

    name: Text
    """Of the file, without its folder."""
    size_bytes: Count
    sha256: Digest


class Inspection(Base, frozen=True, kw_only=True):
    """One card as a person saw it."""

    die: Short | None = None
    """The marking on the graphics chip itself, line by line, `/` between lines."""
    die_surface: Surface | None = None
    outputs: Annotated[tuple[Output, ...], Meta(max_length=MOST_THINGS)] | None = None
    plugs: Annotated[tuple[Plug, ...], Meta(max_length=MOST_THINGS)] | None = None
    """Power connectors."""
    memory_chips: Chips | None = None
    """On both sides of the board together."""
    memory_marking: Short | None = None
    memory_density_mbit: Density | None = None
    """Of one chip, where its marking was looked up: 8 Gbit is 8192."""
    memory_width_bits: Bits | None = None
    """Of one chip, where that was looked up."""
    contacts: Lanes | None = None
    """Lanes for which the edge connector has contacts."""
    labels: Annotated[tuple[Short, ...], Meta(max_length=MOST_THINGS)] | None = None
    photos: Annotated[tuple[Photo, ...], Meta(max_length=MOST_PHOTOS)] = ()
