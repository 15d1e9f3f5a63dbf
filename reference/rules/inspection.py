"""What a person saw, against the claim and against what was proven: table, arithmetic.

People misread, miscount and look at one side of a board, and a seller can print any
marking. So the eye is never decisive: what no genuine card can show is strong, what
boards differ in supports. What was not looked at says nothing.

Sources: nouveau (nvkm/engine/disp: no DAC from GP100 on); PCI Express Card
Electromechanical Specification (75 W from the slot, 75 and 150 W a 6-pin and an 8-pin
plug, 600 W a 16-pin); JEDEC JESD212 (GDDR5) and JESD250 (GDDR6), and Micron: graphics
memory has 32 data bits a chip. Converters from digital to analog exist.
"""

from collections.abc import Iterator
from typing import Final

from reference import markings
from reference.case import Case
from reference.firmware.naming import chips_in, models_in
from reference.rows import Variant
from reference.rules._say import a, counted, either, find, sizes
from reference.rules.layers import WITHOUT_ANALOG, by_ids, chips_of
from reports.inspection import Inspection
from reports.record import Bearing, Finding, Strength
from reports.units import gib

SLOT_W: Final = 75
PLUG_W: Final = {
    "4-pin": 150, "6-pin": 75, "8-pin": 150, "12-pin": 600, "16-pin": 600,
    "CPU 8-pin": 336,
}  # fmt: skip
"""What one plug may give at the most; what no specification of cards tells, more than
any card draws through it."""
SHORT_OF: Final = 0.70
"""Supply over board power: below it no maker's own board comes (thriftier ones of 90 W
cards run from the 75 W of the slot)."""
_ANALOG: Final = ("VGA", "DVI-A", "DVI-I")
_CHIP_BITS: Final = 32
_BY_CHIPS: Final = ("GDDR5", "GDDR5X", "GDDR6", "GDDR6X", "GDDR7")
"""Memories whose chips have 32 data bits each; two of them can share one channel."""
_ENOUGH: Final = 0.95
_MBIT: Final = 2**20 // 8
_SLOT_SOURCE: Final = "PCI Express Card Electromechanical Specification"


def die_marking(case: Case) -> Iterator[Finding]:
    """Compare the chip that the die's marking names with the claimed model's."""
    seen = case.record.inspection
    if seen is None:
        return
    if seen.die_surface in ("unreadable", "tampered"):
        yield _no_marking(case, seen)
    wanted = chips_of(case) if case.rows else by_ids(case)
    if seen.die is None or seen.die_surface == "unreadable":
        return
    if case.is_part or not wanted:
        return
    chips = markings.chips_on_die(seen.die, case.table)
    if not chips:
        said = "names no chip that the table knows."
        if markings.is_amds_number(seen.die):
            said = "is a number of AMD's, for which no list of chips is published."
        yield _marking(
            case, "supporting", "open", seen.die, f"The marking {seen.die} {said}"
        )
        return
    fits = bool(wanted & set(chips))
    whose = f"as on {a(case.model)}." if fits else f"which no {case.model} is made of."
    if not case.rows:
        whose = "like its PCI id." if fits else f"its PCI id is {either(wanted)}'s."
    yield _marking(
        case, "supporting" if fits else "strong", "agrees" if fits else "contradicts",
        f"{seen.die}, {a(either(chips))}",
        f"The die is marked {seen.die}: {a(either(chips))}, {whose}",
    )  # fmt: skip


def _no_marking(case: Case, seen: Inspection) -> Finding:
    tampered = seen.die_surface == "tampered"
    said = (
        "The die's marking was ground off, painted over or covered: makers do not."
        if tampered
        else "The die's marking could not be read."
    )
    return _marking(
        case, "supporting", "contradicts" if tampered else "open",
        "removed or covered" if tampered else "unreadable", said,
    )  # fmt: skip


def _marking(
    case: Case, strength: Strength, bearing: Bearing, measured: str, sentence: str
) -> Finding:
    wanted = either(sorted(case.chips))
    return find(
        "eye-die-marking", strength, bearing, claim=a(wanted) if wanted else "",
        measured=measured, envelope=wanted, sentence=sentence,
        sources=("envytools", "pci-ids"),
    )  # fmt: skip


def analog_output(case: Case) -> Iterator[Finding]:
    """Look for an analog socket on a generation whose chips have no converter. NVIDIA.

    Boards with a converter of their own exist: where anything was measured, a socket
    does not count against it.
    """
    seen = case.record.inspection
    if seen is None or seen.outputs is None or not case.rows:
        return
    sets = [chip.compute_capability for chip in case.chips.values()]
    analog = [one for one in dict.fromkeys(seen.outputs) if one in _ANALOG]
    if not analog or any(one is None or float(one) < WITHOUT_ANALOG for one in sets):
        return
    yield find(
        "eye-analog-output", "strong" if case.unmeasured else "supporting",
        "contradicts", claim="digital outputs", measured=either(analog),
        envelope="digital outputs",
        sentence=f"It has an analog output ({either(analog)}); the chip of "
        f"{a(case.model)} cannot drive one, unless its maker put a converter on the "
        "board.",
        sources=("nouveau",),
    )  # fmt: skip


def power_plugs(case: Case) -> Iterator[Finding]:
    """Compare what slot and plugs can give with the board power of the model."""
    seen = case.record.inspection
    if seen is None or seen.plugs is None or not case.rows or case.is_part:
        return
    powers = [row.power_w for row in case.all_rows if row.form != "laptop"]
    known = [power for power in powers if power]
    if not known or len(known) < len(powers):
        return
    least = min(known)
    supply = SLOT_W + sum(PLUG_W[plug] for plug in seen.plugs)
    has = either(_tally(seen.plugs)) or "no power connector"
    enough = supply >= least
    strong = supply < SHORT_OF * least and not case.from_memory("power_w")
    said = f"Slot and plugs ({has}) give up to {supply} W; {a(case.model)} draws "
    yield find(
        "eye-power-plugs", "strong" if strong and not enough else "supporting",
        "agrees" if enough else "contradicts", claim=f"{least} W", measured=has,
        envelope=f"{least} W at least",
        sentence=f"{said}{least} W" + ("." if enough else ", more than they can."),
        sources=(_SLOT_SOURCE, *case.sources),
    )  # fmt: skip


def memory_chips(case: Case) -> Iterator[Finding]:
    """Compare chips times density and chips times width with claim and proof."""
    seen = case.record.inspection
    if seen is None or seen.memory_chips is None or case.is_part:
        return
    if not case.rows or any("HBM" in row.memory_type for row in case.all_rows):
        return  # stacks lie beside the die, and cannot be counted from outside
    if any(row.processors > 1 for row in case.all_rows):
        return
    part = markings.memory_part(seen.memory_marking or "")
    density = seen.memory_density_mbit or (part.density_mbit if part else None)
    width = seen.memory_width_bits or (part.width_bits if part else None)
    if part and (density, width) != (part.density_mbit, part.width_bits):
        yield _at_odds(seen, part)
        return
    if density is not None:
        total = seen.memory_chips * density * _MBIT
        source = part.source if part and not seen.memory_density_mbit else ""
        yield _capacity(case, seen.memory_chips, density, total, source)
        yield from _proven(case, total)
    yield from _bus(case, seen.memory_chips, width)


def _at_odds(seen: Inspection, part: markings.MemoryPart) -> Finding:
    """Tell of a size or width that the part number belies: neither is counted on."""
    told = (
        f"{_density(seen.memory_density_mbit or part.density_mbit)}, "
        f"{seen.memory_width_bits or part.width_bits} bits wide"
    )
    printed = f"{_density(part.density_mbit)}, {part.width_bits} bits wide"
    return find(
        "eye-memory-size", "supporting", "open", claim=printed, measured=told,
        envelope=printed,
        sentence=f"A memory chip marked {seen.memory_marking} is one of {printed}; "
        f"it was given as {told}. One of the two was misread: neither was counted on.",
        sources=(part.source,),
    )  # fmt: skip


def _capacity(case: Case, count: int, density: int, total: int, source: str) -> Finding:
    made = {row.memory_bytes for row in case.all_rows}
    claimed = case.listed_bytes
    wanted = {claimed} if claimed else made
    fits = total in wanted
    least = min(wanted)
    sum_ = f"{counted(count, 'chip')} of {_density(density)}"
    said = f"{sum_} hold {gib(total)}"
    if fits:
        said += f", as {a(case.model)} has." if not claimed else ", as it was sold."
    else:
        shown = sizes(one for one in wanted if one)
        whose = "it was sold with" if claimed else f"{a(case.model)} has"
        said += f"; {whose} {shown}."
    short = total < _ENOUGH * least and (claimed or not case.from_memory("memory"))
    return find(
        "eye-memory-size", "strong" if short else "supporting",
        "agrees" if fits else "contradicts", claim=sizes(wanted),
        measured=f"{gib(total)} ({sum_})", envelope=sizes(made), sentence=said,
        sources=tuple(filter(None, (source, *case.sources))),
    )  # fmt: skip


def _proven(case: Case, total: int) -> Iterator[Finding]:
    """Hold what the chips can have against what was proven to be there."""
    proven, proof = case.proven_bytes, case.capacity
    if proof is None or proven == 0:
        return
    if proven > total:
        yield find(
            "eye-memory-proven", "supporting", "explains", claim=gib(total),
            measured=gib(proven),
            sentence=f"{gib(proven)} of memory were proven, more than the chips that "
            "were read can hold: a marking was misread, or chips were missed.",
        )  # fmt: skip
        return
    told = proof.claimed_bytes
    if total < _ENOUGH * told:
        yield find(
            "eye-memory-proven", "supporting", "contradicts", claim=gib(told),
            measured=gib(total), envelope=gib(total),
            sentence=f"Its chips hold {gib(total)}, its driver tells of {gib(told)}; "
            f"{gib(proven)} were proven.",
        )  # fmt: skip


def _bus(case: Case, count: int, width: int | None) -> Iterator[Finding]:
    """Compare the widest bus that so many chips can make with the model's."""
    rows = case.rows
    if width is None:
        if any(row.memory_type not in _BY_CHIPS for row in rows):
            return  # chips of 8, 16 and 32 bits were used
        width = _CHIP_BITS
    widest, made = count * width, sorted({row.bus_bits for row in rows})
    shared = widest // 2 if width == _CHIP_BITS and count % 2 == 0 else widest
    fits = any(bits in (widest, shared) for bits in made)
    short = widest < made[0] and not case.from_memory("memory")
    wanted = either([str(bits) for bits in made])
    said = (
        f"{counted(count, 'memory chip')} of {width} bits make a bus of {widest} bits"
    )
    if fits:
        said += f", two sharing a channel: {shared}" if widest not in made else ""
        said += f", as on {a(case.model)}."
    else:
        said += f" at most; on {a(case.model)} it is {wanted} bits."
    yield find(
        "eye-bus-width", "strong" if short else "supporting",
        "agrees" if fits else "contradicts", claim=f"{wanted} bits",
        measured=f"{widest} bits", envelope=f"{wanted} bits", sentence=said,
        sources=("JEDEC: data bits of graphics memories", *case.sources),
    )  # fmt: skip


def contacts(case: Case) -> Iterator[Finding]:
    """Compare the contacts of the edge connector with the model's lanes."""
    seen = case.record.inspection
    if seen is None or seen.contacts is None or not case.rows or case.is_part:
        return
    made = [_lanes(row) for row in case.all_rows]
    known = [lanes for lanes in made if lanes]
    if not known or len(known) < len(made):
        return
    least = min(known)
    fits = seen.contacts >= least
    yield find(
        "eye-contacts", "supporting", "agrees" if fits else "contradicts",
        claim=f"x{least}", measured=f"x{seen.contacts}", envelope=f"x{least}",
        sentence=f"Its edge connector has contacts for {seen.contacts} lanes; "
        f"{a(case.model)} uses {least}.",
        sources=case.sources,
    )  # fmt: skip


def labels(case: Case) -> Iterator[Finding]:
    """Compare chips and models that labels and prints name. They prove little."""
    seen = case.record.inspection
    if seen is None or not seen.labels or not case.rows:
        return
    chips, models = chips_of(case), {row.model for row in case.all_rows}
    for label in seen.labels:
        named = set(chips_in([label], case.table))
        called = set(models_in([label], case.table))
        if not named and not called:
            continue
        fits = not (named and not named & chips) and not (
            called and not called & models
        )
        told = either(sorted(called or named))
        yield find(
            "eye-label", "supporting", "agrees" if fits else "contradicts",
            claim=case.model, measured=told, envelope=case.model,
            sentence=f"A label or print on it says {label!r}"
            + (", as it was sold." if fits else f", which is {a(told)}."),
        )  # fmt: skip


def _lanes(row: Variant) -> int | None:
    return int(row.pcie.partition("x")[2]) if row.pcie else None


def _density(mbit: int) -> str:
    return f"{mbit // 1024} Gbit" if mbit % 1024 == 0 else f"{mbit} Mbit"


def _tally(plugs: tuple[str, ...]) -> list[str]:
    """Return `2 x 8-pin` for two of a kind."""
    counts = {plug: plugs.count(plug) for plug in plugs}
    return [
        f"{count} x {plug}" if count > 1 else plug for plug, count in counts.items()
    ]
