"""What all types of a record share: bounded values, frozen structs.

Imports nothing of ours. A bound keeps out of a record what no card can have, and what
JSON cannot hold.
"""

from typing import Annotated

from msgspec import Meta, Struct

Text = Annotated[str, Meta(max_length=4096)]
Count = Annotated[int, Meta(ge=0, le=2**63 - 1)]
Real = Annotated[float, Meta(ge=-1e30, le=1e30)]
"""A finite float: JSON has no NaN, and a bound keeps it out on reading."""
Positive = Annotated[float, Meta(ge=0.0, le=1e30)]
Word32 = Annotated[int, Meta(ge=0, le=2**32 - 1)]


class Base(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What all parts of a record share."""
