"""The memory bus as the driver counts it: as many bits as the chip has channels on.

NVML takes the width from the memory channels in use. Wider than the chip ever was, or
narrower than any card of that name, is another card.
"""

from collections.abc import Iterator

from reference.case import Case
from reference.rules._say import a, either, find
from reports.record import Finding, Strength


def bus_width(case: Case) -> Iterator[Finding]:
    """Compare the width that NVML tells with the widths ever made. NVIDIA."""
    told = {claim.bus_width_bits for claim in case.reported if claim.bus_width_bits}
    if not case.rows or case.is_part or {row.vendor for row in case.rows} != {"NVIDIA"}:
        return
    made = sorted({row.bus_bits for row in case.rows})
    near = {chip.bus_bits for chip in case.chips.values()}
    near |= {row.bus_bits for row in case.all_rows}
    for bits in sorted(told):
        wanted = either([str(one) for one in made])
        fits = bits in made
        strength: Strength = "strong"
        if not fits and bits not in near and _sure(case):
            strength = "decisive"
        yield find(
            "bus-width",
            strength,
            "agrees" if fits else "contradicts",
            claim=f"{wanted} bits",
            measured=f"{bits} bits",
            envelope=f"{wanted} bits",
            sentence=f"Its memory bus is {bits} bits wide, as on {a(case.model)}."
            if fits
            else f"Its memory bus is {bits} bits wide; on {a(case.model)} it is "
            f"{wanted} bits.",
            sources=case.sources,
        )


def _sure(case: Case) -> bool:
    """Whether no channel may be off for a genuine card's own reasons.

    Stacks of high bandwidth memory are, on server cards.
    """
    return (
        not (case.loose or case.on_rare_chip or case.from_memory("memory"))
        and all(row.form != "server" for row in case.rows)
        and not any(row.memory_type.startswith("HBM") for row in case.rows)
    )
