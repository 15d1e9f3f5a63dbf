"""What every layer says, before and after: which word became honest.

A word is held against the silicon alone (`silicon.py`). What firmware may rightly
change (its version, clocks, who made the board) is told as changed, and no more.
"""

from collections.abc import Callable

from reference.repaired.silicon import Silicon
from reference.repaired.view import View
from reports import layered, seen
from reports.compared.value import Became, Row
from reports.record import Claim, Layer
from reports.units import gib, quantity
from reports.words import LAYER

_ORDER: tuple[Layer, ...] = ("nvml", "opencl", "driver", "pci")
_STANDIN = "not the maker's driver"
_SELL = "Sell it as what it reports now: no listing is in the card."


def _plain(value: object) -> str:
    return str(value)


def _size(value: object) -> str:
    assert isinstance(value, int)
    return gib(value)


FIELDS: dict[str, tuple[str, Callable[[object], str]]] = {
    "model": ("Model", _plain),
    "memory_bytes": ("Memory", _size),
    "pci_id": ("PCI id", _plain),
    "compute_units": ("Units", _plain),
    "cores": ("Lanes", _plain),
    "compute_capability": ("Compute capability", _plain),
    "gfx_target": ("Instruction set", _plain),
    "bus_width_bits": ("Memory bus", lambda value: f"{value} bits"),
    "chip_id": ("Chip's own number", _plain),
    "subsystem": ("Subsystem", _plain),
    "revision": ("Revision", _plain),
    "vendor": ("Vendor", _plain),
    "clock_mhz": ("Clock", lambda value: f"{value} MHz"),
    "memory_clock_mhz": ("Memory clock", lambda value: f"{value} MHz"),
    "link_generation": ("Link generation", _plain),
    "link_width": ("Link lanes", _plain),
    "firmware": ("Firmware", _plain),
    "driver": ("Driver", _plain),
}
"""Every word of a layer that is compared: its title and how it is written."""


def claim_rows(before: View, after: View, *, one_card: bool) -> tuple[Row, ...]:
    """Return a row for each word; layers that say the same share one."""
    new = Silicon(after.case)
    old = new if one_card and new.chips else Silicon(before.case)
    found: dict[tuple[str, str | None, str | None, Became], list[str]] = {}
    for field in FIELDS:
        for layer in _ORDER:
            for title, first, last in _pairs(before, after, layer):
                row = _word(field, first, last, old, new, before, after)
                if row is not None:
                    found.setdefault(row, []).append(title)
    rows = (
        Row(
            part="claims",
            title=title,
            by=", ".join(layers),
            before=first_text,
            after=last_text,
            became=became,
            decides=became in ("became honest", "still wrong", "got worse"),
        )
        for (title, first_text, last_text, became), layers in found.items()
    )
    return (*rows, *_sold(before, after))


def _sold(before: View, after: View) -> tuple[Row, ...]:
    """Return what it was sold as: told, and no part of the verdict."""
    texts = before.sold_as, after.sold_as
    if texts == (None, None):
        return ()
    held = [
        _HOLDS.get(view.sold.verdict.outcome) if view.sold.verdict else None
        for view in (before, after)
    ]
    was, now = (one if text else None for one, text in zip(held, texts, strict=True))
    return (
        Row(
            part="claims",
            title="Sold as",
            before=texts[0],
            after=texts[1],
            became=_became(*texts, was=was, now=now),
            note=_SELL if was is False and texts[0] != texts[1] else "",
        ),
    )


_HOLDS = {"as claimed": True, "not as claimed": False}


def further_rows(before: View, after: View) -> tuple[Row, ...]:
    """Return what the bus tells beside the claims, a firmware's read, an inspection."""
    rows = []
    for old, new in (
        (_limits(before), _limits(after)),
        (_layers(before), _layers(after)),
        (_named("Firmware", seen.firmware(before.own.firmware_report)),
         _named("Firmware", seen.firmware(after.own.firmware_report))),
        (_named("Seen", seen.inspected(before.own.inspection)),
         _named("Seen", seen.inspected(after.own.inspection))),
    ):  # fmt: skip
        for title in dict.fromkeys((*old, *new)):
            first, last = old.get(title), new.get(title)
            became = _by_value(first, last)
            rows.append(
                Row(
                    part="further", title=title, before=first, after=last, became=became
                )
            )
    return tuple(rows)


def _pairs(
    before: View, after: View, layer: Layer
) -> list[tuple[str, Claim | None, Claim | None]]:
    """Return the claims of one layer beside each other, in order.

    What a stand-in driver says is held against a stand-in's word alone.
    """
    found = []
    for name, standin in ((LAYER[layer], False), (f"{LAYER[layer]}, {_STANDIN}", True)):
        old, new = (
            [
                one
                for one in view.sold.claims
                if one.layer == layer and view.case.is_standin(one) == standin
            ]
            for view in (before, after)
        )
        found += [
            (
                name if not place else f"{name} ({place + 1})",
                old[place] if place < len(old) else None,
                new[place] if place < len(new) else None,
            )
            for place in range(max(len(old), len(new)))
        ]
    return found


def _word(
    field: str,
    first: Claim | None,
    last: Claim | None,
    old: Silicon,
    new: Silicon,
    before: View,
    after: View,
) -> tuple[str, str | None, str | None, Became] | None:
    title, shown = FIELDS[field]
    values = [getattr(one, field) if one else None for one in (first, last)]
    texts = [None if one is None else shown(one) for one in values]
    if texts == [None, None]:
        return None
    was = old.tells(first, field, proof=before.case) if first else None
    now = new.tells(last, field, proof=after.case) if last else None
    if before.outcome == "as claimed":
        was = was or None
    if after.outcome == "as claimed":
        now = now or None
    return title, texts[0], texts[1], _became(texts[0], texts[1], was=was, now=now)


def _became(
    first: str | None, last: str | None, *, was: bool | None, now: bool | None
) -> Became:
    if first is not None and last is not None:
        if now is False:
            return "still wrong" if was is False or first == last else "got worse"
        if was is False:
            return "became honest" if now else "changed"
    elif now is False:
        return "still wrong"
    return _by_value(first, last)


def _by_value(first: str | None, last: str | None) -> Became:
    if first is None:
        return "only after"
    if last is None:
        return "only before"
    return "unchanged" if first == last else "changed"


def _limits(view: View) -> dict[str, str]:
    """Return the limits that the driver tells, which firmware sets."""
    telemetry = view.own.telemetry
    if telemetry is None:
        return {}
    told = {
        "Power limit": (telemetry.power_limit_w, "W"),
        "Slows down from": (telemetry.slowdown_c, "°C"),
    }
    return {
        title: quantity(value, unit)
        for title, (value, unit) in told.items()
        if value is not None
    }


def _layers(view: View) -> dict[str, str]:
    told: dict[str, str] = {}
    for title, text, _ in layered.lines(view.own.card.layers):
        name = title[:1].upper() + title[1:]
        told[name] = f"{told[name]}; {text}" if name in told else text
    return told


def _named(head: str, lines: tuple[tuple[str, str], ...]) -> dict[str, str]:
    return {f"{head}: {term}": text for term, text in lines}
