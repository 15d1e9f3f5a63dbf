"""How the card lasts, before and after: soak, heat, what cut a test off.

Stability is told apart from honesty: an honest card may be unstable, and a soak that
was never made is neither.
"""

from collections.abc import Iterator

from reference.repaired.view import View
from reports.compared.value import Became, Row, Stability
from reports.lasting import Soak
from reports.text import plain
from reports.units import duration, many, moved

LEAST_SECONDS = 60.0
"""A shorter soak hardly warms a card: it shows nothing."""
HEAT_BAND_C = 5.0
"""By so much two runs of one card differ with the room."""
_SOAK = "run `cardassay check --depth thorough --soak 5`"
_WHY = 300


def stability_of(view: View) -> Stability:
    """Return what the record after the repair says of lasting load."""
    soak = view.own.soak
    if soak is None or not soak.checked:
        return Stability(
            state="not tested",
            sentence="Whether it is stable was not tested: it was not kept under load.",
            step=_SOAK,
        )
    lasted, hottest = duration(soak.seconds), hottest_of(soak)
    heat = f", at up to {hottest:.0f} °C" if hottest is not None else ""
    bad = wrong_of(soak)
    if bad:
        return Stability(
            state="failed",
            seconds=soak.seconds,
            hottest_c=hottest,
            sentence=f"It is not stable: under full load for {lasted}{heat}, {bad}.",
            step="let it cool, look after its cooler, and test again",
        )
    if soak.stopped_by is not None or soak.seconds < LEAST_SECONDS:
        why = plain(soak.stopped_by, _WHY).rstrip(".") if soak.stopped_by else ""
        told = f"was stopped: {why}" if why else "is too short to tell"
        return Stability(
            state="cut short",
            seconds=soak.seconds,
            hottest_c=hottest,
            sentence=f"Whether it is stable is not known: the soak of {lasted} {told}.",
            step=_SOAK,
        )
    read = f" and {moved(soak.memory_bytes)} of memory" if soak.memory_bytes else ""
    memory = "" if read else " Its memory was not read meanwhile."
    return Stability(
        state="stable",
        seconds=soak.seconds,
        hottest_c=hottest,
        sentence=f"Stable for {lasted} under full load{heat}: {many(soak.checked)} "
        f"results{read} came back right.{memory}",
    )


def wrong_of(soak: Soak) -> str:
    """Return what was wrong under lasting load, as a clause; empty: nothing."""
    cells = soak.cells
    parts = []
    if soak.wrong:
        verb = "was" if soak.wrong == 1 else "were"
        share = f"{many(soak.wrong)} of {many(soak.checked)}"
        parts.append(f"{share} results {verb} wrong")
    lost = cells.cells - cells.intact if cells else 0
    if lost == 1:
        parts.append("one reading of a cell was wrong")
    elif lost > 1:
        parts.append(f"{many(lost)} readings of cells were wrong")
    if not parts and (soak.spots or soak.more_spots):
        parts.append("something came out wrong")
    return " and ".join(parts)


def hottest_of(soak: Soak) -> float | None:
    """Return the highest temperature read meanwhile."""
    return max(
        (one.temperature_c for one in soak.series if one.temperature_c is not None),
        default=None,
    )


def lasting_rows(before: View, after: View) -> Iterator[Row]:
    """Compare soaks, heat and what cut tests off."""
    old, new = before.own.soak, after.own.soak
    if old or new:
        bad = [wrong_of(one) if one else None for one in (old, new)]
        yield Row(
            part="lasting",
            title="Under lasting load",
            before=_soaked(old),
            after=_soaked(new),
            became=_judged(*bad),
            decides=bool(bad[1]),
        )
    heats = [_heat(view) for view in (before, after)]
    if heats != [None, None]:
        yield _hot(*heats)
    cut = [len(view.own.incidents) for view in (before, after)]
    if any(cut):
        became: Became = "still wrong"
        if not all(cut):
            became = "better" if cut[0] else "got worse"
        yield Row(
            part="lasting",
            title="Times the test was cut off",
            before=str(cut[0]) if cut[0] else "none",
            after=str(cut[1]) if cut[1] else "none",
            became=became,
            decides=bool(cut[1]),
        )


def _judged(old: str | None, new: str | None) -> Became:
    if old is None or new is None:
        return "still wrong" if new else "only before" if new is None else "only after"
    if old and new:
        return "still wrong"
    if old or new:
        return "better" if old else "got worse"
    return "unchanged"


def _soaked(soak: Soak | None) -> str | None:
    if soak is None:
        return None
    return f"{duration(soak.seconds)}, {wrong_of(soak) or 'nothing wrong'}"


def _heat(view: View) -> float | None:
    telemetry = view.own.telemetry
    read = [
        one.temperature_c
        for one in (telemetry.samples if telemetry else ())
        if one.temperature_c is not None
    ]
    hottest = hottest_of(view.own.soak) if view.own.soak else None
    return max([*read, *([hottest] if hottest is not None else [])], default=None)


def _hot(old: float | None, new: float | None) -> Row:
    became: Became = "only after" if old is None else "only before"
    if old is not None and new is not None:
        became = "unchanged" if abs(new - old) <= HEAT_BAND_C else "changed"
    return Row(
        part="lasting",
        title="Hottest",
        before=None if old is None else f"{old:.0f} °C",
        after=None if new is None else f"{new:.0f} °C",
        became=became,
        note="Longer tests, and warmer rooms, make it hotter."
        if became == "changed"
        else "",
    )
