"""One record made ready for judging: who claims what, and which rows that means.

Only gathers. Nothing here finds for or against a card; `reference/rules/` does.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from reference import names
from reference.envelope import envelopes, shown
from reference.rows import Chip, Variant
from reference.table import Table
from reports.record import (
    Capacity,
    Claim,
    Envelope,
    Identified,
    Phase,
    Rate,
    Record,
)

if TYPE_CHECKING:
    from reference.match import Ranking

NAMING_LAYERS = ("nvml", "opencl", "driver", "pci")
"""Whose name for the card counts, the most trusted first."""
NAME_LIMIT = 200
DECIMAL = 10**9
FOREIGN_DRIVERS = (
    "rusticl",
    "clover",
    "portable",
    "pocl",
    "openclon12",
    "clvk",
    "oclgrind",
    "mesa",
    "microsoft",
)
"""Stand-in platforms: their unit count is a thread count or a constant, their memory
may be partly the PC's, their name is looked up."""
MEMORY_PHASES = frozenset({"take", "write", "verify", "turn"})
"""How the phases that the proof of the memory consists of begin."""
THIRTY_TWO_BIT = frozenset({"i386", "i486", "i586", "i686", "x86"})
"""Systems that cannot see all of a large card's memory."""
FAMILY = "series"
"""In a name: AMD's driver names a family, of which the table may lack members."""


@dataclass(frozen=True)
class Case:
    """A record beside the table. Everything a rule may look at."""

    record: Record
    table: Table

    @cached_property
    def listing(self) -> Claim | None:
        """What the seller says, where that was told."""
        told = sorted(
            (claim for claim in self.record.claims if claim.layer == "listing"),
            key=lambda claim: (claim.model is None, repr(claim)),
        )
        return told[0] if told else None

    @cached_property
    def reported(self) -> tuple[Claim, ...]:
        """What the card's own layers say, in an order that is always the same."""
        return tuple(
            sorted(
                (claim for claim in self.record.claims if claim.layer != "listing"),
                key=lambda claim: (
                    self.is_standin(claim),
                    NAMING_LAYERS.index(claim.layer),
                    repr(claim),
                ),
            )
        )

    def is_standin(self, claim: Claim) -> bool:
        """Whether not the vendor's own driver speaks: it decides nothing alone."""
        if claim.layer != "opencl":
            return False
        card = self.record.card
        words = claim.source.casefold()
        own = (card.platform or "").casefold()
        if any(word in words for word in FOREIGN_DRIVERS):
            return True
        if own and words.endswith(own):
            return any(word in own for word in FOREIGN_DRIVERS)
        others = [name.casefold() for name in card.also_seen_through if name]
        if any(words.endswith(name) for name in others):
            return True
        return not others and any(word in own for word in FOREIGN_DRIVERS)

    @cached_property
    def reported_name(self) -> str | None:
        """The model as reported: the first layer's that the table knows, else any."""
        said = [claim.model for claim in self.reported if claim.model]
        known = [name for name in said if self._models(name)]
        chips = [name for name in said if self.table.chips_named(name)]
        return next(iter([*known, *chips, *said]), None)

    @cached_property
    def reported_rows(self) -> tuple[Variant, ...]:
        """Rows of the reported model; empty where it is unknown or only a chip."""
        return self._models(self.reported_name) if self.reported_name else ()

    @cached_property
    def reported_chips(self) -> tuple[str, ...]:
        """The chips that the reported name is itself a name of."""
        return self.table.chips_named(self.reported_name or "")

    @cached_property
    def listed_rows(self) -> tuple[Variant, ...]:
        """Rows of the listing's model."""
        name = self.listing.model if self.listing else None
        return self.table.resolve(name) if name else ()

    @property
    def is_listed(self) -> bool:
        """Whether the listing names a model: then that is the claim."""
        return self.listing is not None and bool(self.listing.model)

    @cached_property
    def model(self) -> str:
        """The claimed model in words; empty where nothing names one."""
        if self.is_listed and self.listing is not None:
            return self._spelt(self.listing.model or "", self.listed_rows)
        return self._spelt(self.reported_name or "", self.reported_rows)

    @cached_property
    def all_rows(self) -> tuple[Variant, ...]:
        """Every row of the claimed model."""
        return self.listed_rows if self.is_listed else self.reported_rows

    @cached_property
    def rows(self) -> tuple[Variant, ...]:
        """Rows of the claimed model, narrowed by the claimed memory if any are left."""
        size = self.claimed_bytes
        if size is None or (self.sees_part and self.listed_bytes is None):
            return self.all_rows
        fitting = tuple(row for row in self.all_rows if self.fits(size, row))
        return fitting or self.all_rows

    @cached_property
    def loose(self) -> bool:
        """Whether the claimed name may not be the card's own.

        A family's set may lack genuine cards; a name that was only looked up by the
        PCI id may be that of another model with the same id.
        """
        family = self.is_family and len({row.model for row in self.all_rows}) > 1
        return not self.is_listed and (family or self.looked_up)

    @property
    def is_family(self) -> bool:
        """Whether the reported name is a family's."""
        return FAMILY in (self.reported_name or "").casefold()

    @cached_property
    def looked_up(self) -> bool:
        """Whether only a list of PCI ids or a stand-in gave the reported name."""
        return all(
            claim.layer == "pci" or self.is_standin(claim)
            for claim in self.reported
            if claim.model and claim.model == self.reported_name
        )

    @property
    def is_part(self) -> bool:
        """Whether the card itself says that it is less than the whole desktop card."""
        unknown_mobile = not self.reported_rows and names.is_mobile(
            self.reported_name or ""
        )
        return self.sliced or unknown_mobile

    @cached_property
    def sliced(self) -> bool:
        """Whether what is seen is a part of a card, lent to a virtual machine."""
        return any(
            (
                claim.layer != "pci"  # a list names all that go by one id
                and names.is_slice(claim.model or "")
                and not self._models(claim.model or "")
            )
            or "instances" in claim.source
            for claim in self.reported
        )

    @property
    def is_card(self) -> bool:
        """Whether this is a graphics card with memory of its own at all."""
        card = self.record.card
        return card.kind in ("gpu", "accelerator") and not card.unified_memory

    @cached_property
    def listed_whole(self) -> int | None:
        """The listing's memory; whole decimal gigabytes mean as many binary ones."""
        size = self.listing.memory_bytes if self.listing else None
        if size and size % DECIMAL == 0:
            return size // DECIMAL * 2**30
        return size or None

    @cached_property
    def listed_bytes(self) -> int | None:
        """The listing's memory of one processor, where boards carry several.

        Sellers name the board's; a record is of one processor.
        """
        size, told = self.listed_whole, self.reported_bytes
        shared = [
            row
            for row in self.all_rows
            if row.processors > 1 and row.memory_bytes * row.processors == size
        ]
        alone = [row for row in self.all_rows if row.memory_bytes == size]
        if not shared or (alone and not (told and self.fits(told, shared[0]))):
            return size
        return shared[0].memory_bytes

    @cached_property
    def reported_bytes(self) -> int | None:
        """The most memory that any layer of the card reports."""
        said = [claim for claim in self.reported if claim.memory_bytes]
        own = [claim for claim in said if not self.is_standin(claim)]
        sizes = [claim.memory_bytes or 0 for claim in own or said]
        if self.capacity is not None:
            sizes.append(self.capacity.claimed_bytes)
        return max(sizes, default=0) or None

    @property
    def sees_part(self) -> bool:
        """Whether the system may see less memory than the card has."""
        return self.record.host.machine.casefold() in THIRTY_TWO_BIT

    @cached_property
    def size_counts(self) -> bool:
        """Whether the reported size is not a stand-in's alone."""
        said = [claim for claim in self.reported if claim.memory_bytes]
        return not said or not all(map(self.is_standin, said))

    @property
    def claimed_bytes(self) -> int | None:
        """The claimed memory: the listing's, else the reported."""
        return self.listed_bytes or self.reported_bytes

    @property
    def capacity(self) -> Capacity | None:
        """The capacity proof, where one was made."""
        return self.record.capacity

    @property
    def proven_bytes(self) -> int:
        """Bytes of the card itself that kept their data; 0 without a proof."""
        proof = self.capacity
        if proof is None:
            return 0
        own = max(proof.covered_bytes - proof.spilled_bytes, 0)
        return min(proof.proven_bytes, own)

    @property
    def unmeasured(self) -> bool:
        """Whether nothing of the card itself was measured: its layers speak alone."""
        record = self.record
        return (
            record.capacity is None
            and record.structure is None
            and record.soak is None
            and all(rate.value is None for rate in record.rates)
        )

    @cached_property
    def broken(self) -> tuple[Phase, ...]:
        """Phases of the memory test that did not come to their end, nor later did."""
        latest = {one.name: one for one in self.record.phases}
        return tuple(
            one
            for one in latest.values()
            if one.outcome in ("failed", "interrupted")
            and one.name.partition(" ")[0] in MEMORY_PHASES
        )

    @cached_property
    def chips(self) -> dict[str, Chip]:
        """The chips that a genuine one is made of."""
        return {row.chip: self.table.chip(row) for row in self.rows}

    @cached_property
    def on_rare_chip(self) -> bool:
        """Whether it may be a genuine one on a chip that the table lacks details of."""
        rare = self.table.chips_seen(self.rows) - set(self.chips)
        sets = {self.table.chips[one].compute_capability for one in rare}
        return any(
            claim.compute_capability in sets
            or (claim.pci_id and self.table.chip_by_window(claim.pci_id) in rare)
            for claim in self.reported
        )

    @cached_property
    def envelopes(self) -> dict[str, Envelope]:
        """What a genuine one shows, by quantity."""
        return {one.quantity: one for one in envelopes(self.rows, self.table)}

    @cached_property
    def sources(self) -> tuple[str, ...]:
        """Sources of the rows."""
        return tuple(sorted({source for row in self.rows for source in row.sources}))

    @cached_property
    def rates(self) -> dict[str, Rate]:
        """Measured rates by name; of several with one name the slowest."""
        found: dict[str, Rate] = {}
        for rate in sorted(
            self.record.rates,
            key=lambda rate: (rate.value is None, -(rate.value or 0), repr(rate)),
        ):
            if rate.value is not None or rate.name not in found:
                found[rate.name] = rate
        return found

    @cached_property
    def ranking(self) -> "Ranking | None":
        """How likely everything measured is on each row; None for too little."""
        from reference.match import weigh  # noqa: PLC0415 - it needs cases

        return weigh(self)

    @cached_property
    def identified(self) -> Identified | None:
        """What the card is by everything measured; None where too little was."""
        from reference.match import identify  # noqa: PLC0415 - it needs cases

        return identify(self)

    def from_memory(self, field: str) -> bool:
        """Whether a fact of a claimed row waits to be checked: it decides nothing."""
        return any(
            field in row.from_memory or set(row.sources) == {"memory"}
            for row in self.all_rows
        )

    def fits(self, size: int, row: Variant) -> bool:
        """Whether a driver may show `size` bytes for a genuine card of that row."""
        low, high = shown(row, self.table.architecture(row))
        return row.memory_bytes * low <= size <= row.memory_bytes * high

    def _models(self, name: str) -> tuple[Variant, ...]:
        return () if self.table.chips_named(name) else self.table.resolve(name)

    @staticmethod
    def _spelt(name: str, rows: Iterable[Variant]) -> str:
        models = {row.model for row in rows}
        wanted = names.key(name)
        exact = sorted(model for model in models if names.key(model) == wanted)
        if exact:
            return exact[0]
        return next(iter(models)) if len(models) == 1 else name[:NAME_LIMIT]
