"""What layers print about a card: names, counts, sizes, for the truth bench.

Names come from what is published (`tests/data/outside/`: NVIDIA's open kernel modules,
libdrm's amdgpu.ids, the PCI ID repository), else from the row's own model and aliases.
"""

import re
from collections import defaultdict
from functools import cache
from pathlib import Path
from random import Random

from truth.habits import HABITS

from reference.rows import Chip, Variant
from reports.record import Claim

OUTSIDE = Path(__file__).parents[1] / "data" / "outside"
CHIP_NAMES = {"Polaris 10": "Ellesmere", "Polaris 11": "Baffin"}
MESA = "(radeonsi, {chip}, LLVM 15.0.7, DRM 3.54, 6.5.0)"


def _lines(name: str) -> list[list[str]]:
    text = (OUTSIDE / name).read_text()
    return [line.split("\t") for line in text.splitlines() if line[:1] not in ("#", "")]


@cache
def nvidia_names() -> dict[str, frozenset[str]]:
    """By PCI id, every name that NVIDIA's driver prints for it."""
    found: dict[str, set[str]] = defaultdict(set)
    for device, _, name in _lines("nvidia_names.tsv"):
        found[f"10de:{device.lower()}"].add(name)
    return {pci: frozenset(said) for pci, said in found.items()}


@cache
def amd_names() -> dict[tuple[str, str], str]:
    """By PCI id and revision, the name of libdrm."""
    return {
        (f"1002:{device.lower()}", revision.lower()): name
        for device, revision, name in _lines("amdgpu_ids.tsv")
    }


@cache
def pci_names() -> dict[str, str]:
    return {one[0]: one[1] for one in _lines("pci_ids.tsv")}


class Print:
    """One card's identity as its layers print it."""

    def __init__(self, rng: Random, row: Variant, chip: Chip) -> None:
        self.rng, self.row, self.chip = rng, row, chip
        self.pci = rng.choice(row.pci) if row.pci else None
        self.revision = rng.choice(row.revisions) if row.revisions else None
        self.board = rng.choice(row.subsystems) if row.subsystems else None

    def name(self) -> str:
        """Return what the compute driver calls the card."""
        rng, row = self.rng, self.row
        if row.vendor == "NVIDIA":
            said = nvidia_names().get(self.pci or "", frozenset())
            if len(said) == 1 and rng.random() < 0.7:
                return next(iter(said))
            return rng.choice(("NVIDIA ", "")) + row.model
        if row.vendor == "Intel":
            return rng.choice((f"Intel(R) {row.model} Graphics", f"Intel {row.model}"))
        return self._amd()

    def _amd(self) -> str:
        rng, row, draw = self.rng, self.row, self.rng.random()
        board = amd_names().get((self.pci or "", self.revision or ""))
        if board and draw < 0.4:
            return board
        if draw < 0.5 and self.chip.gfx:
            return rng.choice(self.chip.gfx)
        if draw < 0.58:
            return CHIP_NAMES.get(row.chip, row.chip)
        if draw < 0.75:
            return rng.choice((row.model, *row.aliases))
        return f"AMD {row.model}"

    def bus_name(self) -> str | None:
        """Return the name that the PCI ID repository has for the id."""
        return pci_names().get(self.pci or "")

    def units(self) -> int:
        """Return the count of units as its driver prints it."""
        counted = HABITS[self.row.architecture].counted
        weights = [weight for weight, _ in counted]
        factor = self.rng.choices([by for _, by in counted], weights)[0]
        count = self.row.units * factor
        return int(count) if count >= 1 and count.is_integer() else self.row.units


def claims(
    rng: Random,
    named: Print,
    silicon: Print,
    size: int,
    *,
    nvml: bool,
    pci: bool,
    free: int,
) -> list[Claim]:
    """Return what the layers say: `named` can be written, `silicon` counts itself.

    A genuine card has one and the same for both.
    """
    row, made = named.row, []
    stand_in = row.vendor == "AMD" and rng.random() < 0.08
    name = named.name()
    if stand_in:
        chip = re.sub(r"\W", "", row.chip).casefold()
        name = f"{row.model} {MESA.format(chip=chip)}"
    platform = {"NVIDIA": "NVIDIA CUDA", "Intel": "Intel(R) OpenCL Graphics"}.get(
        row.vendor, "AMD Accelerated Parallel Processing"
    )
    made.append(
        Claim(
            layer="opencl",
            source=f"OpenCL, platform {'rusticl' if stand_in else platform}",
            model=name,
            memory_bytes=size,
            compute_units=silicon.units(),
            compute_capability=silicon.chip.compute_capability,
            gfx_target=next(iter(silicon.chip.gfx), None)
            if rng.random() < 0.6
            else None,
            clock_mhz=row.boost_mhz or row.base_mhz,
        )
    )
    if nvml and row.vendor == "NVIDIA":
        made.append(
            Claim(
                layer="nvml",
                source="NVIDIA's management library (NVML)",
                model=name,
                memory_bytes=min(int(size * rng.uniform(1.0, 1.006)), row.memory_bytes),
                pci_id=named.pci,
                subsystem=named.board,
                cores=silicon.row.shaders if rng.random() < 0.8 else None,
                bus_width_bits=silicon.row.bus_bits if rng.random() < 0.8 else None,
                compute_capability=silicon.chip.compute_capability,
                memory_clock_mhz=max(row.rate_mtps // 2, 1),
                free_bytes=free,
            )
        )
    if pci:
        made.append(
            Claim(
                layer="pci",
                source="PCI configuration, through Linux's sysfs",
                model=named.bus_name() if rng.random() < 0.6 else None,
                vendor=row.vendor,
                pci_id=named.pci,
                subsystem=named.board,
                revision=named.revision,
            )
        )
    return made


def listing(rng: Random, row: Variant, *, sized: bool) -> Claim:
    """Return how a seller describes it."""
    whole = row.memory_bytes * row.processors
    size = None
    if sized:
        gib = whole / 2**30
        decimal = gib.is_integer() and rng.random() < 0.3
        size = int(gib * 10**9) if decimal else whole
    return Claim(layer="listing", source="as given", model=row.model, memory_bytes=size)
