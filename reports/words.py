"""Fixed words that terminal and page share: one place, so nothing is worded twice.

Only texts and marks. Nothing here looks at a record. Every mark is a plain sign, so
that meaning survives a photocopy, a screen reader and a console without colour.
"""

from typing import Final

from reports.lasting import IncidentKind
from reports.record import Bearing, BlockState, Depth, Outcome, PhaseOutcome, Strength

OUTCOME: Final[dict[Outcome, tuple[str, str]]] = {
    "as claimed": ("=", "as claimed"),
    "not as claimed": ("≠", "not as claimed"),
    "faulty": ("!", "faulty"),
    "undetermined": ("?", "undetermined"),
}
"""Mark and words of each outcome."""

BEARING: Final[dict[Bearing, tuple[str, str]]] = {
    "contradicts": ("≠", "contradicts"),
    "fault": ("!", "a fault"),
    "agrees": ("=", "agrees"),
    "explains": ("~", "explains"),
    "open": ("?", "not settled"),
}
"""Mark and words of each way in which a finding bears on the claim."""

STRENGTH: Final[dict[Strength, str]] = {
    "decisive": "decisive",
    "strong": "strong",
    "supporting": "supporting",
}

STATE: Final[dict[BlockState, str]] = {
    "proven": "proven: kept what was written",
    "mirrored": "mirrored: shows another place's data",
    "hollow": "hollow: nothing is there",
    "failing": "failing: some bits are wrong",
    "scrambled": "scrambled: holds something else",
    "spilled": "spilled: lay in the PC's memory",
    "unreached": "not reached",
}

RATE: Final[dict[str, str]] = {
    "fp32": "Single precision (fp32)",
    "fp64": "Double precision (fp64)",
    "fp16": "Half precision (fp16)",
    "int32": "Whole numbers (int32)",
    "transcendental": "Powers of two (exp2)",
    "memory_read": "Memory, reading",
    "memory_write": "Memory, writing",
    "memory_copy": "Memory, copying",
    "local_memory": "Local memory",
    "link_up": "Link, PC to card",
    "link_down": "Link, card to PC",
}

LAYER: Final[dict[str, str]] = {
    "listing": "Listing",
    "opencl": "OpenCL",
    "nvml": "NVML",
    "pci": "PCI",
    "driver": "Driver",
}

DEPTH: Final[dict[Depth, str]] = {
    "quick": "quick",
    "standard": "standard",
    "thorough": "thorough",
}

PHASE: Final[dict[PhaseOutcome, str]] = {
    "done": "done",
    "failed": "failed",
    "skipped": "skipped",
    "interrupted": "stopped",
}

RULES: Final = {
    "memory-bits": "Working memory",
    "lane-count": "Lanes",
    "model-known": "Model",
    "graphics-card": "Kind of device",
    "names-agree": "Names of all layers",
    "soak": "Lasting load",
    "soak-results": "Results under lasting load",
    "memory-soak": "Memory under lasting load",
    "rate-kept": "Rate under lasting load",
    "silicon-id": "Chip's own number",
    "sibling-function": "Functions beside it",
    "guarded": "Fit to be tested",
    "eye-die-marking": "Marking of the die",
    "eye-analog-output": "Analog socket",
    "eye-power-plugs": "Power connectors",
    "eye-memory-size": "Memory chips, size",
    "eye-bus-width": "Memory chips, bus",
    "eye-memory-proven": "Memory chips and proof",
    "eye-contacts": "Edge connector",
    "eye-label": "Label",
    "read-version-chip": "Firmware's version",
    "read-id": "Firmware's PCI id",
    "read-card-id": "Firmware and PCI id",
    "read-built": "Firmware's date",
    "read-texts": "Firmware's texts",
    "read-left-over": "Firmware's loose texts",
    "read-analog": "Firmware's outputs",
    "read-memory": "Firmware's memory",
    "read-reads": "Reads of the firmware",
    "read-chain": "Firmware, whole",
    "read-checksum": "Firmware's checksum",
    "read-table-sum": "Firmware's table sum",
    "read-surface": "Firmware, as a file",
    "read-subsystem": "Firmware's subsystem",
    "read-running": "Firmware that runs",
    "read-held": "Firmware that was held",
    "read-straps": "Firmware's straps",
    "read-class": "Firmware's class",
    "read-chips": "Firmware's chips",
    "read-image-ids": "Firmware's ids",
    "read-versions": "Firmware's two versions",
    "read-measured-chip": "Firmware and chip",
    "read-report": "Read of the firmware",
}
"""Titles of rows that a rule's own name does not tell well enough."""
SPELLING: Final = {
    "pci": "PCI",
    "opencl": "OpenCL",
    "nvml": "NVML",
    "transcendental": "powers of two",
}
"""How parts of a rule's name are written in its title."""

IDENTITY: Final = "What it really is"
"""Head of the paragraph on the chip."""

IDENTITY_BASIS: Final = (
    "Told from what was measured alone: nothing that firmware can write entered."
)

COLUMNS: Final = ("Claimed", "Found", "A genuine one shows")
"""Heads of the ledger's three columns."""

INTERRUPTED: Final = "Stopped before its end: only what was learnt until then is shown."
NO_VERDICT: Final = "No verdict: the findings were not judged."
NO_VERDICT_STOPPED: Final = "No verdict: the test was stopped before its end."
NOT_SAID: Final = "not said"
"""Stands where a claim or a figure is absent."""
BY_ITS_MODEL: Final = "by its model"
"""Stands where nothing is claimed but what the model's name promises."""

SOAK: Final = "Under lasting load"
"""Head of what a soak came to."""

STAIRCASE: Final = (
    "One work-group fills one unit. As many as there are units finish together; one "
    "more has to wait for its turn, and the time steps up. So the chip itself counts "
    "its units, whatever it is called."
)
"""How the staircase of units works."""

EYE: Final = "What was seen on it"
FIRMWARE: Final = "What its firmware holds"
CUT_OFF: Final = "What cut the test off"
"""Head of what ended a measuring process, or the PC."""

ALSO_AGREES: Final = "Agrees as well"
NOT_CHECKED: Final = "Not checked"
SOURCES: Final = "Where the figures of genuine cards are from"
WOULD_SETTLE: Final = "What would settle it"

BELOW: Final = "below that range"
ABOVE: Final = "above that range"

CAVEATS: Final = (
    (
        "The result holds for this card, in this PC, on that day. Firmware can be "
        "rewritten afterwards."
    ),
    (
        "Slow alone proves nothing: heat, too little power, a riser or another program "
        "slow a genuine card."
    ),
    (
        "A card can be what it claims and still be worn: the test says nothing of how "
        "long it will last."
    ),
    (
        "This sheet says what was measured, not who changed the card or knew of it. "
        "What a buyer may claim is local law."
    ),
    "This sheet is not signed: it is worth as much as the person who made it.",
)
CAVEAT_SOAK: Final = (
    "A clean soak says that the card was stable that long, in this PC and in a room as "
    "warm as on that day. It promises nothing beyond."
)
CAVEAT_CUT_OFF: Final = (
    "A driver that crashes once proves nothing: drivers crash on genuine cards, too. "
    "Only what comes again at the same place, all below it sound, speaks against a "
    "card."
)
CAVEAT_KEEP: Final = (
    "Keep the card as it is until the matter is settled: do not write firmware to it, "
    "do not open it."
)
CAVEAT_FAULTY: Final = (
    "A faulty card can bring down the PC. Do not keep using it for work that matters."
)


def practice(condition: str) -> str:
    """Return the notice of a practice run: first and last line wherever it is shown.

    `condition` is the simulated card's, already clean; empty where it has no name.
    """
    named = f" Simulated: {condition}." if condition else ""
    return f"Practice run: no real card was tested.{named}"


INCIDENT: Final[dict[IncidentKind, str]] = {
    "crashed": "its driver crashed",
    "killed": "its process was killed",
    "hung": "the card did not answer",
    "lost": "the driver lost the card",
    "babbled": "its process told nonsense",
    "frozen": "the PC went down",
    "ended": "the program was ended",
}
