"""How long makers renew drivers, and which kinds of chip a renderer still takes.

Published facts by architecture. What no source here tells is left out, never guessed.
"""

from typing import Final

from reference.rows import Architecture, Chip
from reference.use_sources import BRANCHES, GCN, NVIDIA, R580, TERASCALE, Published
from reports.base import Base, Few, Text
from reports.uses import Answer


class Support(Base, frozen=True, kw_only=True):
    """Until when drivers for an architecture are made."""

    answer: Answer
    because: Text
    sources: Few[Published]


_R390: Final = Support(
    answer="no",
    because="Its last driver branch is R390 (Fermi), no longer maintained.",
    sources=(NVIDIA, BRANCHES),
)
_R470: Final = Support(
    answer="no",
    because="Its last driver branch is R470 (Kepler), no longer maintained.",
    sources=(NVIDIA, BRANCHES),
)
_R580: Final = Support(
    answer="with limits",
    because="Its last driver branch is R580, maintained until June 2028.",
    sources=(NVIDIA, R580),
)
_ON: Final = Support(
    answer="yes",
    because="No end of its drivers has been announced.",
    sources=(NVIDIA,),
)
_GCN: Final = Support(
    answer="no",
    because="AMD's last driver for it on Windows is 21.5.2, of June 2021.",
    sources=(GCN,),
)
_TERASCALE: Final = Support(
    answer="no",
    because="AMD's last driver for it on Windows is Catalyst 15.7.1, of 2015.",
    sources=(TERASCALE,),
)
SUPPORT: Final[dict[str, Support]] = {
    "fermi-2.0": _R390, "fermi-2.1": _R390, "kepler-3.0": _R470, "kepler-3.5": _R470,
    "maxwell-5": _R580, "pascal-6.0": _R580, "pascal-6.1": _R580, "volta-7.0": _R580,
    "turing-7.5": _ON, "ampere-8.0": _ON, "ampere-8.6": _ON, "ada-8.9": _ON,
    "hopper-9.0": _ON, "blackwell-10.0": _ON, "blackwell-12.0": _ON,
    "gcn-1": _GCN, "gcn-2": _GCN, "gcn-3": _GCN,
    "terascale-2": _TERASCALE, "terascale-3": _TERASCALE,
}  # fmt: skip
"""By architecture of the table."""

_LEAST_CAPABILITY: Final = (5, 0)
_RENDERS: Final = ("rdna-", "xe-hpg", "xe2-hpg")


def renders(chip: Chip, built: Architecture) -> bool:
    """Whether current versions of the renderer that `use_needs` cites take the chip."""
    if built.vendor == "NVIDIA":
        told = chip.compute_capability
        return told is not None and tuple(map(int, told.split("."))) >= (
            _LEAST_CAPABILITY
        )
    return chip.architecture.startswith(_RENDERS)
