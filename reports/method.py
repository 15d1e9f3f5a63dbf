"""How this record's test worked, in a few lines, and what to bear in mind.

Says only what the record shows was done. Words for people; no markup of any medium.
"""

from reports import words
from reports.record import Record
from reports.text import plain
from reports.units import duration, gib, many


def method_of(record: Record) -> tuple[str, ...]:
    """Return six lines on what was done to this card, in order; more with more."""
    return (
        _identified(record),
        *_proven(record),
        _timed(record),
        *_soaked(record),
        *_looked_at(record),
        _judged(record),
    )


def cautions_of(record: Record) -> tuple[str, ...]:
    """Return what to bear in mind when acting on this record."""
    outcome = record.verdict.outcome if record.verdict else None
    first: tuple[str, ...] = ()
    if outcome == "not as claimed":
        first = (words.CAVEAT_KEEP,)
    elif outcome == "faulty":
        first = (words.CAVEAT_FAULTY,)
    soaked = (words.CAVEAT_SOAK,) if record.soak else ()
    cut = (words.CAVEAT_CUT_OFF,) if record.incidents else ()
    return (*first, *words.CAVEATS, *soaked, *cut)


def _identified(record: Record) -> str:
    layers = list(dict.fromkeys(words.LAYER[claim.layer] for claim in record.claims))
    if not layers:
        return "Nothing said what the card claims to be."
    return (
        f"What the card claims was read from {_listed(layers)}. "
        "Such words can be rewritten: none was taken on trust."
    )


def _proven(record: Record) -> tuple[str, str, str]:
    capacity = record.capacity
    if capacity is None:
        return (
            "Its memory was not filled: the test did not get that far.",
            "Nothing was read back.",
            "No second pass was made.",
        )
    read = any(step.name != "write" for step in capacity.passes)
    turned = any(step.name == "turn" for step in capacity.passes)
    return (
        (
            f"All the memory that could be had ({gib(capacity.covered_bytes)} in "
            f"{len(capacity.blocks)} blocks) was held at once and filled, each "
            f"{capacity.cell_bytes}-byte cell with a tag that names its own address."
        ),
        (
            "Only when everything was written was it read back. Memory that is not "
            "there cannot keep its tags, and a wrong cell says whose data it shows."
        )
        if read
        else "Reading it back was not finished.",
        "Then once more with every bit turned over, walking the other way, which finds "
        "stuck bits."
        if turned
        else "A second pass, with every bit turned over, was not made.",
    )


def _timed(record: Record) -> str:
    timed = [rate for rate in record.rates if rate.value is not None]
    counted = _counted(record)
    if not timed:
        return f"Arithmetic and memory speed were not measured.{counted}"
    checked = sum(rate.checked for rate in timed)
    wrong = sum(rate.wrong for rate in timed)
    tail = "none was wrong" if not wrong else f"{wrong:,} were wrong"
    kinds = "kind of work was" if len(timed) == 1 else "kinds of work were"
    return (
        f"{len(timed)} {kinds} timed, each several times over, and {many(checked)} "
        f"results compared bit for bit: {tail}.{counted}"
    )


def _counted(record: Record) -> str:
    """Return how the chip was made to tell how it is built, where it was."""
    built = record.structure
    if built is None:
        return ""
    told = []
    if built.units:
        told.append("its units, by giving it work until one portion had to wait")
    if built.levels:
        told.append("its caches, by how long an answer from memory takes")
    if not told:
        return ""
    return f" The chip itself told of {'; and of '.join(told)}."


def _soaked(record: Record) -> tuple[str, ...]:
    """Return how the card was kept under load, where it was."""
    soak = record.soak
    if soak is None:
        return ()
    memory = (
        f", {gib(soak.held_bytes)} of memory held, read and turned over in "
        f"{soak.passes:,} {'walk' if soak.passes == 1 else 'walks'}"
        if soak.held_bytes
        else ""
    )
    steps = f"{soak.steps:,} load {'step' if soak.steps == 1 else 'steps'}"
    said = (
        f"Then it was kept under full load for {duration(soak.seconds)}: "
        f"{many(soak.checked)} results compared bit for bit{memory}, and {steps} from "
        "rest to full load in one launch."
    )
    return (said,)


def _looked_at(record: Record) -> tuple[str, ...]:
    """Return what else was looked at: the firmware's chip, the card itself."""
    report, found = record.firmware_report, []
    if report is not None:
        count = len(report.comparison.reads)
        reads = f"{count} reads" if count > 1 else "One read"
        found.append(
            f"{reads} of its firmware chip {'were' if count > 1 else 'was'} taken "
            "apart. All of it can be rewritten: it never decides."
        )
    if record.inspection is not None:
        found.append(
            "A person looked at the card itself. What an eye reads is evidence, and "
            "never decides alone."
        )
    return tuple(found)


def _judged(record: Record) -> str:
    if record.verdict is None:
        return "The findings were not judged."
    if record.genuine is None:
        return "There was no genuine card in the table to hold the figures against."
    model = plain(record.genuine.model) or "card"
    version = plain(record.program.table_version or "")
    table = f" (table {version})" if version else ""
    return (
        f"The figures were held against what a genuine {model} "
        f"can show{table}. Slowness alone never decides."
    )


def _listed(names: list[str]) -> str:
    if len(names) == 1:
        return names[0]
    return f"{', '.join(names[:-1])} and {names[-1]}"
