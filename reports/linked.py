"""What a card's link to its PC ran at while it was timed: why a copy was not faster.

An explanation and no more: slot, riser and PC hold a link back, so its state says
nothing against a card.
"""

from reports.record import Record, Sample
from reports.units import link_rate, link_words, quantity


def link_remark(record: Record, phase: str) -> str:
    """Return a remark on one timed copy; empty where the link's state was not read.

    `the link ran at PCIe 3.0 x4 (3.94 GB/s), the card's own port knows 3.0 x16: slot,
    riser or PC hold it back`.
    """
    samples = record.telemetry.samples if record.telemetry else ()
    ran = max((_state(one) for one in samples if one.phase == phase), default=None)
    if ran is None or not ran[0]:
        return ""
    rate, generation, lanes = ran
    said = f"the link ran at PCIe {link_words(generation, lanes)}"
    said += f" ({quantity(rate, 'B/s')} at best)"
    ports = {
        (claim.link_generation or 0, claim.link_width or 0) for claim in record.claims
    }
    known = {port for port in ports if link_rate(*port)}
    if len(known) != 1:
        return said
    (own,) = known
    if generation < own[0] or lanes < own[1]:
        said += f"; the card's own port knows {link_words(*own)}: slot, riser or PC"
        said += " hold it back"
    return said


def _state(sample: Sample) -> tuple[float, int, int]:
    generation, lanes = sample.link_generation or 0, sample.link_width or 0
    return link_rate(generation, lanes) or 0.0, generation, lanes
