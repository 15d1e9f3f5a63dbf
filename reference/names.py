"""Names of cards made comparable: what drivers, layers and sellers write differently.

Letter case, blanks, hyphens, trademark signs and vendors' words never matter. What
tells models apart (Ti, SUPER, XT, GRE, a size) is never dropped.
"""

import re
from functools import lru_cache

_MARKS = re.compile(
    r"\((?:tm|r|c)\)|[\N{TRADE MARK SIGN}\N{REGISTERED SIGN}]", re.IGNORECASE
)
_RENDERER = re.compile(r"/(?:pcie|agp|integrated).*$", re.IGNORECASE)
_DRIVER_TAIL = re.compile(
    r"\((?=[^()]*(?:llvm|drm|radeonsi)\b)[^()]*\)?\s*$", re.IGNORECASE
)
_PCI_NAME = re.compile(r"^[^\[\]]+\[([^\[\]/]+)\]$")
_BRANDS = re.compile(
    r"\b(?:nvidia|geforce|amd|ati|advanced micro devices|radeon|intel|corporation"
    r"|inc\.?|graphics)\b",
    re.IGNORECASE,
)
_SIZE = re.compile(
    r"^(.*?)[\s,(]*\b(\d{1,3}(?:\.5)?)\s*(g|m)i?b\b\)?\s*$", re.IGNORECASE
)
_GFX = re.compile(r"^(gfx[0-9a-f]{3,4})(?::.*|-.*)?$", re.IGNORECASE)
_LONGEST = 256
"""Characters of a name. What is longer names nothing: no card is called that."""
_MOBILE = re.compile(r"\b(?:laptop|max-q|mobile)\b", re.IGNORECASE)
_SLICE = re.compile(r"\bMIG\b|\bGRID\b|\bvGPU\b|-\d+[QCBA]$", re.IGNORECASE)


@lru_cache(maxsize=4096)
def key(name: str) -> str:
    """Return the form of a name under which equal models are equal; may be empty."""
    name = _MARKS.sub(" ", _short(name))
    name = _RENDERER.sub("", name)
    name = _DRIVER_TAIL.sub("", name)
    inner = _PCI_NAME.match(name.strip())
    if inner:
        name = inner[1]
    name = _BRANDS.sub(" ", name)
    return re.sub(r"[^0-9a-z.+/]", "", name.casefold())


def split_size(name: str) -> tuple[str, int] | None:
    """Split `GTX 1070 8GB` into the name before the size and the size in bytes."""
    found = _SIZE.match(_short(name))
    if not found or not found[1].strip():
        return None
    scale = 2**30 if found[3].casefold() == "g" else 2**20
    return found[1].strip(), round(float(found[2]) * scale)


def _short(name: str) -> str:
    """Return a name with single blanks; empty where it is too long to be one.

    Matching takes up to the square of a text's length.
    """
    name = " ".join(name.split())
    return name if len(name) <= _LONGEST else ""


def gfx(name: str) -> str | None:
    """Return the bare compiler target of `gfx1030:xnack-`; None for other names."""
    found = _GFX.match(name.strip())
    return found[1].casefold() if found else None


def is_mobile(name: str) -> bool:
    """Whether a name says by itself that it is a laptop's part."""
    return bool(_MOBILE.search(name))


def is_slice(name: str) -> bool:
    """Whether a name is that of a part of a card lent to a virtual machine."""
    return bool(_SLICE.search(name))
