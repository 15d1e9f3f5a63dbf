"""Memory sizes as people write them."""

import re

from probe.errors import UsageError

SMALLEST = 2**20
LARGEST = 2**50
_STEPS = {"k": 2**10, "m": 2**20, "g": 2**30, "t": 2**40, "": 1}
_FORM = re.compile(r"\s*(\d{1,16}(?:\.\d{1,6})?)\s*([kmgt]?)(i?b)?\s*", re.IGNORECASE)


def size_bytes(text: str, option: str) -> int:
    """Return `8GiB`, `8 GB`, `2048 MiB` or `1024` as bytes.

    Card memory is sold in binary units under decimal names: 8 GB means 8 GiB. A bare 8
    is refused: no card has eight bytes, and guessing might accuse a genuine one. Raises
    UsageError naming the option.
    """
    match = _FORM.fullmatch(text)
    if match is None:
        raise UsageError(f"{option}: {text[:40]!r} is not a size; write it as 8GiB")
    size = int(float(match[1]) * _STEPS[match[2].lower()])
    if size < SMALLEST and not match[2]:
        raise UsageError(
            f"{option}: {text[:40]!r} has no unit and would be {size} bytes; write it "
            "as 8GiB"
        )
    if not SMALLEST <= size < LARGEST:
        raise UsageError(f"{option}: {text[:40]!r} is no size that a card can have")
    return size
