"""The cards of a PC as `cardassay list` shows them: as text and as data.

Takes plain data, finds nothing out and judges nothing. Imports nothing above reports.
"""

import msgspec
from rich.console import Group, RenderableType
from rich.constrain import Constrain
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from reports import layered, words
from reports.base import Base
from reports.base import Text as PlainText
from reports.record import CardIdentity, Claim
from reports.summary import clean
from reports.terminal import Encodable, safe_text
from reports.text import inert

SCHEMA = 1
_NARROWEST = 40
_INDENT = 3
_NO_CARDS = "No graphics card and no OpenCL device is seen here."


class ListedCard(Base, frozen=True, kw_only=True):
    """One card, what each layer says of it, and where the layers contradict."""

    identity: CardIdentity
    claims: tuple[Claim, ...] = ()
    disagreements: tuple[PlainText, ...] = ()
    notes: tuple[PlainText, ...] = ()
    testable: bool = True
    """False: no OpenCL driver shows it."""


class Listing(Base, frozen=True, kw_only=True):
    """Every card of a PC, and remarks that belong to none of them."""

    schema: int = SCHEMA
    cards: tuple[ListedCard, ...] = ()
    notes: tuple[PlainText, ...] = ()


def encode_inventory(listing: Listing) -> bytes:
    """Return the listing as JSON."""
    return inert(msgspec.json.format(msgspec.json.encode(listing), indent=1)) + b"\n"


def render_inventory(listing: Listing, width: int) -> RenderableType:
    """Return the listing for a terminal of `width` columns."""
    parts: list[RenderableType] = []
    for card in listing.cards:
        parts.extend((_card(card), safe_text("")))
    if not listing.cards:
        parts.extend((safe_text(_NO_CARDS), safe_text("")))
    parts.extend(safe_text(note) for note in listing.notes)
    if isinstance(parts[-1], Text) and not parts[-1].plain:
        parts.pop()
    return Encodable(Constrain(Group(*parts), max(width, _NARROWEST)))


def _card(card: ListedCard) -> RenderableType:
    identity = card.identity
    head = Text(f"{identity.index}  {clean(identity.label)}", style="bold")
    place = [identity.pci_address or "no PCI address", _what(card)]
    rows = Table.grid(padding=(0, 2, 0, 0))
    rows.add_column(no_wrap=True)
    rows.add_column(overflow="fold")
    for claim in card.claims:
        rows.add_row(
            safe_text(words.LAYER[claim.layer]), safe_text(", ".join(_said(claim)))
        )
        rows.add_row(safe_text(""), safe_text(claim.source, style="dim"))
    if identity.layers is not None:
        for what, told in layered.short(identity.layers):
            rows.add_row(safe_text(what), safe_text(told))
    if identity.paired_by:
        rows.add_row(safe_text("Paired"), safe_text(f"by {identity.paired_by}"))
    if identity.also_seen_through:
        rows.add_row(
            safe_text("Also"),
            safe_text("through " + ", ".join(identity.also_seen_through)),
        )
    for sentence in card.disagreements:
        rows.add_row(
            safe_text("Differs", style="bold"), safe_text(sentence, style="bold")
        )
    for note in card.notes:
        rows.add_row(safe_text("Note"), safe_text(note))
    return Group(
        head,
        Padding(safe_text(", ".join(place)), (0, 0, 0, _INDENT), expand=False),
        Padding(rows, (0, 0, 0, _INDENT), expand=False),
    )


def _what(card: ListedCard) -> str:
    identity = card.identity
    kinds = {
        "gpu": "graphics card",
        "cpu": "processor",
        "accelerator": "accelerator",
        "other": "display of a machine",
    }
    parts = [kinds[identity.kind]]
    if identity.kind == "gpu" and identity.unified_memory:
        parts = ["built-in graphics"]
    if identity.drives_display:
        parts.append("drives a display")
    if not card.testable:
        parts.append("no OpenCL: cannot be tested")
    return ", ".join(parts)


def _said(claim: Claim) -> list[str]:
    """Put what a layer says into short phrases with their units."""
    memory, free = claim.memory_bytes, claim.free_bytes
    phrases = (
        claim.model,
        claim.gfx_target and f"chip {claim.gfx_target}",
        claim.chip_id and f"chip's own number {claim.chip_id}",
        memory is not None and f"{memory / 2**30:.2f} GiB",
        free is not None and f"{free / 2**30:.2f} GiB free",
        claim.pci_id and f"id {claim.pci_id}",
        claim.subsystem and f"subsystem {claim.subsystem}",
        claim.revision and f"revision {claim.revision}",
        claim.compute_units and f"{claim.compute_units} units",
        claim.cores and f"{claim.cores} cores",
        claim.compute_capability and f"compute capability {claim.compute_capability}",
        claim.clock_mhz and f"{claim.clock_mhz} MHz",
        claim.memory_clock_mhz and f"memory {claim.memory_clock_mhz} MHz",
        claim.bus_width_bits and f"{claim.bus_width_bits} bit",
        _link(claim),
        claim.driver and f"driver {claim.driver}",
        claim.firmware and f"firmware {claim.firmware}",
    )
    said = [phrase for phrase in phrases if isinstance(phrase, str) and phrase]
    return said or ["says nothing"]


def _link(claim: Claim) -> str | None:
    generation, lanes = claim.link_generation, claim.link_width
    if generation is None and lanes is None:
        return None
    parts = (
        None if generation is None else f"PCIe {generation}.0",
        None if lanes is None else f"x{lanes}",
    )
    return "link up to " + " ".join(part for part in parts if part)
