"""What the silicon says of itself, and whether a layer's word fits it.

From measurements alone: units counted by time, the chip that everything measured
fits, memory that kept its data. What is not certain is None. No word is called wrong
by a guess, and none of a card that the judge passes.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from reference.case import Case
from reference.causes import busy
from reference.evidence import is_clear
from reference.repaired.view import View
from reference.rows import Variant
from reference.rules._say import a, chip_names
from reference.rules.memory import PROVEN
from reports.compared.value import Match
from reports.record import Candidate, Claim

SURE = 0.95
"""Probability from which on the chip counts as known here."""
APART = 0.99
"""From which on two records are told apart by their chips."""


@dataclass(frozen=True)
class Silicon:
    """What is known of one card's chip: nothing in it can be rewritten."""

    case: Case

    @cached_property
    def candidate(self) -> Candidate | None:
        """The chip by everything measured, where that is sure."""
        found = self.case.identified
        if found is None or not found.chips or found.chips[0].probability < SURE:
            return None
        return found.chips[0]

    @cached_property
    def chips(self) -> frozenset[str]:
        """That chip and its twins; empty: not known."""
        first = self.candidate
        return frozenset((first.chip, *first.twins)) if first else frozenset()

    @cached_property
    def fixed(self) -> bool:
        """Whether its vendor's units can be neither unlocked nor seen as pairs."""
        rows = [row for row in self.case.table.variants if row.chip in self.chips]
        return bool(rows) and all(
            row.vendor == "NVIDIA" and not self.case.table.architecture(row).unlocks
            for row in rows
        )

    @cached_property
    def units(self) -> int | None:
        """Units counted beyond doubt, on a chip where that means its own."""
        built = self.case.record.structure
        if built is None or not is_clear(built) or busy(self.case):
            return None
        return built.units if self.fixed else None

    def tells(self, claim: Claim, field: str, *, proof: Case) -> bool | None:
        """Return whether a layer's word fits; None: nobody can say.

        `proof` is the case of the record that the claim is of: its own memory test
        says whether a size is there.
        """
        value = getattr(claim, field)
        if value is None or self.case.is_standin(claim):
            return None
        if field == "memory_bytes":
            return _is_there(value, proof)
        check = _CHECKS.get(field)
        return check(self, value) if check and self.chips else None

    def is_model(self, name: str) -> bool | None:
        """Return whether a card of that name is made of this chip, cut as this is."""
        table = self.case.table
        named = table.chips_named(name)
        if named:
            return bool(self.chips & set(named))
        rows = table.resolve(name)
        if not rows:
            return None
        if any(self._fits(row) for row in rows):
            return True
        return None if table.chips_seen(rows) & self.chips else False

    def is_id(self, pci_id: str) -> bool | None:
        """Return whether such a card has that PCI id."""
        table = self.case.table
        rows = table.by_pci(pci_id)
        if any(self._fits(row) for row in rows):
            return True
        window = table.chip_by_window(pci_id)
        if window is not None and window not in self.chips:
            return False
        return False if rows else None

    def is_count(self, count: int) -> bool | None:
        """Return whether a driver may count so many units."""
        if self.units is None:
            return None
        kinds = {self.case.table.chips[chip].architecture for chip in self.chips}
        shares = {
            by for kind in kinds for by in self.case.table.architectures[kind].units_as
        }
        return any(self.units * by == count for by in shares)

    def is_lanes(self, lanes: int) -> bool | None:
        """Return whether it has so many lanes."""
        first = self.candidate
        if self.units is None or first is None or not first.lanes:
            return None
        return lanes in first.lanes

    def is_capability(self, version: str) -> bool | None:
        """Return whether code for that compute capability is its own."""
        chips = [self.case.table.chips[chip] for chip in self.chips]
        known = {chip.compute_capability for chip in chips}
        return None if None in known else version in known

    def is_target(self, name: str) -> bool | None:
        """Return whether code for that compiler target is its own."""
        bare = self.case.table.gfx(name)
        known = {one for chip in self.chips for one in self.case.table.chips[chip].gfx}
        return None if bare is None or not known else bare in known or None

    def is_bus(self, bits: int) -> bool | None:
        """Return whether its bus can be so wide: channels may be cut off."""
        if any(row.bus_bits == bits for row in self._rows):
            return True
        widest = max(self.case.table.chips[chip].bus_bits for chip in self.chips)
        return False if bits > widest else None

    @cached_property
    def _rows(self) -> tuple[Variant, ...]:
        """The rows that fit what was measured."""
        names = set(self.candidate.variants) if self.candidate else set()
        return tuple(row for row in self.case.table.variants if row.id in names)

    def _fits(self, row: Variant) -> bool:
        return row.chip in self.chips and self.units in (None, row.units)


_CHECKS: dict[str, Callable[[Silicon, object], bool | None]] = {
    "model": lambda own, value: own.is_model(str(value)),
    "pci_id": lambda own, value: own.is_id(str(value)),
    "compute_units": lambda own, value: own.is_count(_number(value)),
    "cores": lambda own, value: own.is_lanes(_number(value)),
    "compute_capability": lambda own, value: own.is_capability(str(value)),
    "gfx_target": lambda own, value: own.is_target(str(value)),
    "bus_width_bits": lambda own, value: own.is_bus(_number(value)),
}


def same_card(before: View, after: View) -> tuple[Match, str]:
    """Return whether both can be of one card, and where they differ in one clause.

    What firmware can change counts for nothing: names, ids, clocks, the slot. Nor does
    memory: chips are soldered on and off.
    """
    one, other = Silicon(before.case), Silicon(after.case)
    own, now = _register(before), _register(after)
    if own and now and own != now:
        return "differs", f"the chip's own number was {own} and is {now}"
    surely = [
        chip.candidate is not None and chip.candidate.probability >= APART
        for chip in (one, other)
    ]
    if all(surely) and not one.chips & other.chips:
        return "differs", f"{_named(one)} before, {_named(other)} after"
    if one.units and other.units and one.units != other.units:
        return "differs", f"{one.units} units ran before, {other.units} run after"
    width, narrow = (_warp(view) for view in (before, after))
    if width and narrow and width != narrow:
        return (
            "differs",
            f"{width} work-items stepped together before, {narrow} do after",
        )
    known = bool(one.chips and other.chips)
    return ("fits" if known else "unknown"), ""


def _is_there(size: int, case: Case) -> bool | None:
    """Return whether so much memory is there, as the record's own proof tells."""
    proof = case.capacity
    if proof is None or not size:
        return None
    told = [one for one in case.record.findings if one.rule == "memory-bits"]
    absent = any(one.bearing == "contradicts" for one in told)
    if case.proven_bytes >= PROVEN * size:
        return None if absent else True
    return False if absent else None


def _register(view: View) -> str | None:
    """Return the chip's own number, read from its register, without leading zeros."""
    told = {
        one.chip_id.casefold().lstrip("0")
        for one in view.own.claims
        if one.chip_id is not None
    }
    return told.pop() if len(told) == 1 else None


def _warp(view: View) -> int | None:
    built = view.own.structure
    return built.warp_width if built and not busy(view.case) else None


def _named(own: Silicon) -> str:
    return a(chip_names(own.candidate)) if own.candidate else "a chip"


def _number(value: object) -> int:
    assert isinstance(value, int)
    return value
