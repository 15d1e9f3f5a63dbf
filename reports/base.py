"""What all types of a record share: bounded values, frozen structs.

Imports nothing of ours. A bound keeps out of a record what no card can have, and what
JSON cannot hold.
"""

from typing import Annotated, TypeVar

from msgspec import Meta, Struct

_One = TypeVar("_One")

Text = Annotated[str, Meta(max_length=4096)]
Count = Annotated[int, Meta(ge=0, le=2**63 - 1)]
Real = Annotated[float, Meta(ge=-1e30, le=1e30)]
"""A finite float: JSON has no NaN, and a bound keeps it out on reading."""
Positive = Annotated[float, Meta(ge=0.0, le=1e30)]
Signed = Annotated[int, Meta(ge=-(2**63), le=2**63 - 1)]
Few = Annotated[tuple[_One, ...], Meta(max_length=1024)]
Many = Annotated[tuple[_One, ...], Meta(max_length=2**16)]
"""Bounded numbers of things, far above what any run gives: what follows from a record
takes time and memory in proportion, and now and then in the square."""
Word32 = Annotated[int, Meta(ge=0, le=2**32 - 1)]


class Base(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What all parts of a record share."""
