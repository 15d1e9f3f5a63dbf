"""Whether an image can be that of the model a card was sold as.

Chips by version: the table of marks (envytools, printed listings). Ids and windows of
ids: the table (PCI ID repository, envytools). Launch dates: the table. No analog output
from GP100 on: nouveau's nvkm/engine/disp/{gm200,gp100}.c, the second without a DAC.
"""

import datetime as dt
from collections.abc import Iterator
from typing import Final

from reference.firmware.naming import chips_in, models_in
from reference.firmware.parse import BY_TEXTS, BY_VERSION, chips_by
from reference.firmware.say import find
from reference.rows import Variant
from reference.rules._say import a, either
from reference.table import Table
from reports.firmware_report import FirmwareContent, FirmwareFinding

RULES: Final = frozenset(
    {
        *("firmware-class", "firmware-id", "firmware-version-chip"),
        *("firmware-built", "firmware-texts"),
    }
)
"""Rules that can contradict a claim with weight."""
_LONG_BEFORE: Final = 730
_BEFORE: Final = 365
"""Days before the launch of the first card on a chip: firmware is begun earlier."""
_LAUNCHES: Final = (
    *("wikipedia-nvidia", "wikipedia-nvidia-2026", "wikipedia-amd"),
    *("wikipedia-amd-2026", "wikipedia-intel", "wikipedia-intel-2026"),
    "nvidia-datasheets",
)
"""Sources that print launch dates."""
_NO_DAC: Final = ("pascal", "volta", "turing", "ampere", "ada", "hopper", "blackwell")
_UNKNOWN: Final = "?"
_DISPLAY: Final = 0x03
"""Base class of display controllers (PCI Code and ID Assignment)."""


def all_checks(
    image: FirmwareContent, table: Table, claim: str
) -> Iterator[FirmwareFinding]:
    """Yield every finding of an image against a model's name."""
    rows = table.resolve(claim)
    if not rows:
        near = table.near(claim)
        hint = f" Alike are {either(near)}." if near else ""
        yield find(
            "firmware-model-known", "strong", "open", claim=claim,
            sentence=f"The table of genuine cards has no {claim}.{hint}",
        )  # fmt: skip
        return
    if not image.chains:
        return
    chips = {row.chip for row in rows} | table.chips_seen(rows)
    yield from _class(image, claim)
    yield from _id(image, table, claim, rows)
    yield from _version(image, claim, chips)
    yield from _built(image, claim, rows, table)
    yield from _texts(image, table, claim, rows)
    yield from _loose(image, table, claim, chips)
    yield from _analog(image, claim, rows)
    yield from _memory(image, claim, rows)


def _class(image: FirmwareContent, claim: str) -> Iterator[FirmwareFinding]:
    code = foreign_class(image)
    if code is not None:
        yield find(
            "firmware-class", "strong", "contradicts", claim=claim,
            measured=f"class {code:06x}", envelope="class 03xxxx",
            sources=("PCI Firmware Specification 3.x, chapter 5",),
            sentence=no_graphics_card(code),
        )  # fmt: skip


def no_graphics_card(code: int) -> str:
    """Return what another class than a display's means."""
    return (
        "It is the firmware of a card that is no graphics card (PCI class "
        f"{code >> 8:04x})."
    )


def foreign_class(image: FirmwareContent) -> int | None:
    """Return the class that an image states, where no part of it is for a display."""
    codes = [one.class_code for chain in image.chains for one in chain.images]
    known = [code for code in codes if code is not None]
    return known[0] if known and all(one >> 16 != _DISPLAY for one in known) else None


def _id(
    image: FirmwareContent, table: Table, claim: str, rows: tuple[Variant, ...]
) -> Iterator[FirmwareFinding]:
    rule, one = "firmware-id", image.pci_id
    if one is None or one == "0000:0000":
        return
    models = {row.model for row in rows}
    known = {pci for row in rows for pci in row.pci}
    known |= {seen.pci for seen in table.seen if seen.model in models}
    sources = ("PCI ID repository",)
    if one in known:
        yield find(
            rule, "supporting", "agrees", claim=claim, measured=one, sources=sources,
            sentence=f"Its PCI id, {one}, is one of {a(claim)}.",
        )  # fmt: skip
        return
    own = table.by_pci(one)
    window = table.chip_by_window(one)
    if own:
        others = either(dict.fromkeys(row.model for row in own))
        said = f"Its PCI id, {one}, is that of {a(others)}, not of {a(claim)}."
        yield find(
            rule, "strong", "contradicts", claim=claim, measured=f"{one}: {others}",
            envelope=either(sorted(known)), sentence=said, sources=sources,
        )  # fmt: skip
    elif window and window not in {row.chip for row in rows}:
        yield find(
            rule, "strong", "contradicts", claim=claim, measured=f"{one}: {window}",
            envelope=either(sorted(known)), sources=sources,
            sentence=f"Its PCI id, {one}, lies among those of {a(window)}, which no "
            f"{claim} is made of.",
        )  # fmt: skip
    elif known and one[:4] not in {pci[:4] for pci in known}:
        yield find(
            rule, "strong", "contradicts", claim=claim, measured=one,
            envelope=either(sorted(known)), sources=sources,
            sentence=f"Its PCI id, {one}, is not of the maker of {a(claim)}.",
        )  # fmt: skip
    else:
        yield find(
            rule, "supporting", "open", claim=claim, measured=one, sources=sources,
            envelope=either(sorted(known)),
            sentence=f"Its PCI id, {one}, is unknown to the table.",
        )  # fmt: skip


def _version(
    image: FirmwareContent, claim: str, chips: set[str]
) -> Iterator[FirmwareFinding]:
    known = chips_by(image, BY_VERSION)
    if known is None:
        return
    agrees = bool(set(known.chips) & chips)
    yield find(
        "firmware-version-chip", "supporting" if agrees else "strong",
        "agrees" if agrees else "contradicts",
        claim=claim, measured=f"{image.version}: {either(known.chips)}",
        envelope=either(sorted(chips)), sources=known.sources,
        sentence=f"Version {image.version} is that of {a(either(known.chips))}"
        + (
            f", which {a(claim)} is made of."
            if agrees
            else f", which no {claim} is made of."
        ),
    )  # fmt: skip


def _built(
    image: FirmwareContent, claim: str, rows: tuple[Variant, ...], table: Table
) -> Iterator[FirmwareFinding]:
    """Compare the build date with the launch of the chip's first card.

    A board's firmware is begun before the board is sold, so only years count. A launch
    that is known from memory supports at most.
    """
    chips = {row.chip for row in rows}
    launches = [
        (day, row)
        for row in table.variants
        if row.chip in chips and (day := _day(row.launch))
    ]
    if image.built is None or not launches:
        return
    built, first = dt.date.fromisoformat(image.built), min(day for day, _ in launches)
    on_it = [row for day, row in launches if day == first]
    published = [row for row in on_it if not _launch_from_memory(row)]
    sources = _titles(published, table) if published else ("from memory",)
    days = (first - built).days
    if days < _BEFORE:
        yield find(
            "firmware-built", "supporting", "agrees", claim=claim, measured=image.built,
            envelope=f"no more than a year before {first}", sources=sources,
            sentence=f"It was built on {built}, when {a(claim)} could exist.",
        )  # fmt: skip
        return
    yield find(
        "firmware-built",
        "strong" if days >= _LONG_BEFORE and published else "supporting",
        "contradicts", claim=claim, measured=image.built,
        envelope=f"no more than a year before {first}", sources=sources,
        sentence=f"It was built on {built}, {days // 365} "
        f"year{'s' * (days // 365 > 1)} before the first card with the chip of "
        f"{a(claim)} was launched.",
    )  # fmt: skip


def _launch_from_memory(row: Variant) -> bool:
    return "launch" in row.from_memory or set(row.sources) == {"memory"}


def _titles(rows: list[Variant], table: Table) -> tuple[str, ...]:
    """Return which of the rows' sources print launches."""
    cited = dict.fromkeys(one for row in rows for one in row.sources)
    titles = (table.sources[one].title for one in cited if one in _LAUNCHES)
    return tuple(
        dict.fromkeys(one.partition(" (")[0].partition(",")[0] for one in titles)
    )


def _day(text: str | None) -> dt.date | None:
    if text is None:
        return None
    year, month, day = (*text.split("-"), "1", "1")[:3]
    try:
        return dt.date(int(year), int(month), int(day))
    except ValueError:
        return None


def _texts(
    image: FirmwareContent, table: Table, claim: str, rows: tuple[Variant, ...]
) -> Iterator[FirmwareFinding]:
    chips = {row.chip for row in rows} | table.chips_seen(rows)
    named = chips_by(image, BY_TEXTS)
    if named is not None:
        agrees = bool(set(named.chips) & chips)
        yield find(
            "firmware-texts", "supporting" if agrees else "strong",
            "agrees" if agrees else "contradicts", claim=claim,
            measured=either(named.chips), envelope=either(sorted(chips)),
            sentence=f"Its texts name {a(either(named.chips))}"
            + (
                f", which {a(claim)} is made of; texts are what a forger edits first."
                if agrees
                else f", which no {claim} is made of."
            ),
        )  # fmt: skip
    models = {row.model for row in rows}
    others = [model for model in image.models if model not in models]
    if image.models and len(others) == len(image.models):
        made_of = {row.chip for model in others for row in table.resolve(model)}
        same = bool(made_of & chips)
        yield find(
            "firmware-texts", "supporting" if same else "strong", "contradicts",
            claim=claim, measured=either(others), envelope=claim,
            sentence=f"Its texts name {a(either(others))}, not {a(claim)}.",
        )  # fmt: skip


def _loose(
    image: FirmwareContent, table: Table, claim: str, chips: set[str]
) -> Iterator[FirmwareFinding]:
    """Weigh texts that no format places: they may be left over, and support only."""
    for text in image.loose:
        named = set(chips_in([text], table))
        named |= {
            row.chip
            for model in models_in([text], table)
            for row in table.resolve(model)
        }
        if named and not named & chips:
            yield find(
                "firmware-left-over", "supporting", "contradicts", claim=claim,
                measured=text, envelope=either(sorted(chips)),
                sentence=f"It holds the text {text!r}, which is of "
                f"{a(either(sorted(named)))}, not of {a(claim)}.",
            )  # fmt: skip


def _analog(
    image: FirmwareContent, claim: str, rows: tuple[Variant, ...]
) -> Iterator[FirmwareFinding]:
    if image.nvidia is None or "analog" not in image.nvidia.outputs:
        return
    if all(row.architecture.startswith(_NO_DAC) for row in rows):
        yield find(
            "firmware-analog", "supporting", "contradicts", claim=claim,
            measured="an analog output",
            envelope="none: its chip cannot make an analog picture",
            sources=("Linux: nouveau, nvkm/engine/disp",),
            sentence=f"It drives an analog output; the chip of {a(claim)} has none.",
        )  # fmt: skip


def _memory(
    image: FirmwareContent, claim: str, rows: tuple[Variant, ...]
) -> Iterator[FirmwareFinding]:
    found = memory_types(image)
    wanted = {row.memory_type for row in rows}
    kinds = {_kind(one) for one in found}
    if not kinds or _UNKNOWN in kinds:
        return
    agrees = bool(kinds & {_kind(one) for one in wanted})
    yield find(
        "firmware-memory", "supporting", "agrees" if agrees else "contradicts",
        claim=claim, measured=either(found), envelope=either(sorted(wanted)),
        sentence=f"It is made to run {either(found)}"
        + (
            f", as {a(claim)} has."
            if agrees and len(kinds) == 1
            else f"; {a(claim)} has {either(sorted(wanted))}."
        ),
    )  # fmt: skip


def _kind(memory: str) -> str:
    """Return what firmware tells apart: GDDR6 and GDDR6X have no codes of their own."""
    if memory.startswith("type "):
        return _UNKNOWN
    return "HBM" if memory.startswith("HBM") else memory.removesuffix("X")


def memory_types(image: FirmwareContent) -> tuple[str, ...]:
    """Return the kinds of memory that an image can run, where it says so."""
    if image.nvidia:
        return image.nvidia.memory_types
    modules = image.atom.memory if image.atom else ()
    return tuple(dict.fromkeys(one.type for one in modules if one.type))
