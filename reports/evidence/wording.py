"""What a language says in a pack: one field a text, so that none can be forgotten.

Types, and the keys that every language has to fill. The texts are `languages/`'s, one
file a language. `{…}` are filled in by name; what is filled in is never read as a form.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from reports.evidence.case import Shows

PHRASES: Final = (
    "every cell keeps its own data", "silicon and word of one card",
    "no other card fits as well", "a test that runs to its end",
    "a test that can run to its end", "one name in all layers",
    "all of it can be used", "all of it on the card", "in the PC's memory",
    "another maker's card", "not in the table", "no power connector",
    "of working memory", "streaming multiprocessors", "streaming multiprocessor",
    "compute units", "compute unit", "Xe cores", "Xe core", "digital outputs",
    "results wrong", "none wrong", "of the cells", "by its model", "not said",
    "variants in the table", "variant in the table", "all of one variant",
    "cut off at", "chips of", "chip of", "of fp32", "at least", "answered",
    "work-groups", "work-group", "lanes and", "lanes", "bits", "cells", "cell",
    "others", "with", "and", "for", "of", "or", "to", "T op/s", "G op/s",
)  # fmt: skip
"""What the judge's short texts are put together from, beside names and figures."""

UNCHECKED: Final = (
    "The listing: what the card was sold as was not told.",
    "OpenCL's word: the compute driver said nothing of the card.",
    "NVML's word: NVIDIA's management library said nothing of the card.",
    "The PCI ids: the system did not show them.",
    "The memory's real size.",
    "Its units, its arithmetic and the speed of its memory.",
    "Its firmware: no read of the chip was given.",
    "The card itself: nobody looked at it.",
    "Heat, clocks and power: no sensors were read.",
    "Half precision (fp16): its driver offers no fp16 (cl_khr_fp16).",
)
"""What the judge says was not checked, where it is always the same sentence."""

SETTLE: Final = (
    "Choose the graphics card itself from the list of cards.",
    (
        "Name the model with --claim as its box prints it, or give the maker's "
        "figures for it in a file with --reference."
    ),
    "Read the chip's marking, or use the maker's own driver.",
    "Install the maker's own driver afresh and test again.",
    "Read the firmware and the chip's marking.",
    "Test without settings that override the compiler's target.",
    "Install the maker's own driver and test again.",
    "Close every other program, and test again.",
    "Let the card cool, close other programs, and test again.",
    "Read the chip's marking, under its cooler.",
    "Install the maker's own driver afresh, and read the chip's marking.",
    (
        "Close other programs and run the whole test at standard depth, so that "
        "units, caches and every rate are measured; else read the chip's marking."
    ),
    (
        "Test with a newer driver or on a 64-bit system, so that all its memory is "
        "shown; else look at the memory chips."
    ),
    "Ask what size the card was sold with, and test again.",
    "Look at the memory chips: their marking gives each one's size.",
    "Test again, at greater depth and with another driver.",
    "Let it cool, and test again with a longer --soak.",
    (
        "Close other programs, forbid the driver to fall back on the PC's memory, and "
        "test again."
    ),
    "Close other programs, unplug the display from this card, and test again.",
    (
        "Install the maker's own driver afresh, and test again with nothing else "
        "running; look at the memory chips: their marking gives each one's size."
    ),
    "Install the maker's own driver, test again, and read the chip's marking.",
    "Test again, and read the chip's marking: nothing it says of itself can be right.",
    (
        "Let the card cool, close other programs, put it into a full-length slot with "
        "all its power plugs, and test again."
    ),
    "Test again, with another driver.",
    "Test again with nothing else running.",
    "Test again outside a virtual machine, and read the chip's marking.",
    "Read the chip's marking: firmware may be another card's.",
    "Read the firmware chip itself, and the chip's marking.",
    "Have a second person read the die's marking, and photograph it.",
    (
        "Count the memory chips on both sides again, and look their part number up "
        "with their maker."
    ),
    "Count the memory chips on both sides again.",
    "Look at all edges of the board for power connectors.",
    (
        "Test the card under its maker's driver: a converter on the board may explain "
        "the socket."
    ),
    "Plug in the PC's mains adapter, and test again.",
    "Test again without --memory-limit.",
    "Run the whole test again, to its end.",
    "Get the card to run under its maker's driver, and test it.",
    "Read its firmware chip, and look at the read.",
    "Look at the card itself: chip, memory, sockets and plugs.",
    "Let it cool, clean its cooler, see that air reaches it, and test again.",
    (
        "See whether the fan turns freely and is plugged in, give a board without "
        "fans a stream of air, and test again."
    ),
)
"""What the judge says would settle a doubt, where it is always the same sentence."""

RATES: Final = (
    "fp32", "fp64", "fp16", "int32", "transcendental", "memory_read", "memory_write",
    "memory_copy", "local_memory", "link_up", "link_down",
)  # fmt: skip

TITLES: Final = (
    "memory-bits", "proven-capacity", "spilled-memory", "memory-size",
    "listing-memory", "memory-soak", "reported-model", "names-agree", "model-known",
    "pci-id", "silicon-id", "sibling-function", "compute-capability", "gfx-target",
    "compute-units", "lane-count", "counted-units", "told-units", "lane-cycles",
    "warp-width", "resident-groups", "measured-chip", "own-word", "bus-width",
    "other-card", "lesser-memory", "one-variant", "too-fast", "crash-place",
    "cut-off", "guarded", "graphics-card", "heat", "soak", "soak-results",
    "rate-kept", "firmware-version", "firmware-image", "driver-package",
    "analog-output", "link-maximum", "eye-die-marking", "eye-analog-output",
    "eye-power-plugs", "eye-memory-size", "eye-bus-width", "eye-memory-proven",
    "eye-contacts", "eye-label",
)  # fmt: skip
"""Rules whose rows have a title of their own; rates, ratios and results have theirs."""

FINDINGS: Final = (
    "memory-bits/mirrored", "memory-bits/hollow", "memory-bits/both",
    "memory-bits/blocks", "memory-bits/fault", "memory-bits/agrees",
    "proven-capacity/contradicts", "proven-capacity/spilled",
    "proven-capacity/refused",
    "proven-capacity/agrees", "proven-capacity/open", "spilled-memory/open",
    "reported-model/contradicts", "reported-model/agrees", "names-agree/contradicts",
    "pci-id/contradicts", "pci-id/other-maker", "firmware-version/contradicts",
    "silicon-id/contradicts", "sibling-function/contradicts",
    "compute-capability/contradicts", "compute-capability/agrees",
    "gfx-target/contradicts", "compute-units/contradicts", "compute-units/agrees",
    "lane-count/contradicts", "lane-count/agrees", "counted-units/contradicts",
    "told-units/contradicts", "lane-cycles/contradicts", "warp-width/contradicts",
    "measured-chip/contradicts", "own-word/contradicts", "bus-width/contradicts",
    "bus-width/agrees", "listing-memory/contradicts", "listing-memory/agrees",
    "memory-size/contradicts", "memory-size/agrees", "rate/contradicts", "rate/more",
    "ratio/contradicts", "results/fault", "memory-results/fault",
    "soak-results/fault", "memory-soak/fault",
    "other-card/open", "lesser-memory/open", "crash-place/contradicts",
    "guarded/open", "model-known/open", "eye-die-marking/contradicts",
    "eye-power-plugs/contradicts", "eye-memory-size/contradicts",
    "eye-bus-width/contradicts", "eye-analog-output/contradicts",
)  # fmt: skip
"""Findings that have words of their own in every language; any other is quoted."""


@dataclass(frozen=True, kw_only=True, slots=True)
class VerdictWords:
    """The one sentence."""

    sold: str
    sold_size: str
    reported: str
    reported_size: str
    unnamed: str
    found: str
    chip: str
    chip_size: str
    model: str
    memory: str
    calls_itself: str
    instead: str
    pci_owner: str
    both: str
    nothing_against: str
    wrong_memory: str
    wrong_results: str
    not_false: str
    doubtful: str
    none: str
    as_claimed: str
    not_as_claimed: str
    faulty: str
    undetermined: str
    not_and_faulty: str


@dataclass(frozen=True, kw_only=True, slots=True)
class PageWords:
    """Heads and sentences of the page."""

    title: str
    wordmark: str
    about: str
    practice: str
    interrupted: str
    judged_option: str
    judged_listing: str
    not_held: str
    other_models: str
    said: str
    said_note: str
    cut: str
    from_page: str
    compared: str
    gib: str
    fact: str
    claimed: str
    found: str
    genuine: str
    more_rows: str
    findings: str
    findings_note: str
    decisive: str
    quoted: str
    photos: str
    photo: str
    shows: Mapping[Shows, str]
    photo_file: str
    place_removed: str
    no_place: str
    place_unknown: str
    inspected: str
    photos_note: str
    no_photos: str
    untested: str
    not_read: str
    not_looked: str
    not_soaked: str
    settle: str
    check: str
    check_steps: tuple[str, ...]
    check_anew: str
    cautions: str
    caution_lines: tuple[str, ...]
    caution_keep: str
    caution_faulty: str
    letter: str
    letter_note: str
    letter_law: str
    no_letter_right: str
    no_letter_not_held: str
    hashes: str
    hashes_note: str
    hashes_photos: str
    file: str
    size: str
    signs: str
    original: str
    bytes: str
    save_record: str
    save_case: str
    digest: str
    card: str
    tested: str
    depth: str
    quick: str
    standard: str
    thorough: str
    program: str
    table: str
    made: str


@dataclass(frozen=True, kw_only=True, slots=True)
class LetterWords:
    """The letter: facts, and one request."""

    to: str
    order: str
    bought: str
    price: str
    date: str
    subject_not: str
    subject_faulty: str
    subject_open: str
    greeting: str
    offered: str
    offered_enclosed: str
    tested: str
    read: str
    found: str
    open: str
    facts_only: str
    facts_only_faulty: str
    facts_only_open: str
    ask: str
    ask_nothing: str
    enclosed: str
    enclosed_photo: str
    enclosed_photos: str
    closing: str
    practice: str


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadmeWords:
    """What is in the zip."""

    head: str
    page: str
    letter: str
    report: str
    record: str
    judged: str
    listing: str
    case: str
    photo: str
    hashes: str
    check: str
    look: str
    without: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Wording:
    """One language."""

    code: str
    """BCP 47."""
    decimal: str
    thousands: str
    grouped_from: int
    """The least number whose thousands are set apart."""
    months: tuple[str, ...]
    day: str
    """Of `{day}`, `{month}` and `{year}`, as it stands in a sentence."""
    article: Callable[[str], str]
    """Put before a name that stands in a sentence, where the language wants one."""
    quotes: tuple[str, str]
    verdict: VerdictWords
    page: PageWords
    letter: LetterWords
    readme: ReadmeWords
    rate: str
    ratio: str
    results: str
    rates: Mapping[str, str]
    """By RATES."""
    titles: Mapping[str, str]
    """By TITLES."""
    findings: Mapping[str, str]
    """By FINDINGS."""
    phrases: Mapping[str, str]
    """By PHRASES."""
    unchecked: Mapping[str, str]
    """By UNCHECKED."""
    settle: Mapping[str, str]
    """By SETTLE."""
