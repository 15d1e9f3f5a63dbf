"""What the card's own layers have to agree on before it is called honest now.

One layer that still tells the old name, id or size is enough to forbid it.
"""

from collections.abc import Iterator

from reference import names
from reference.repaired.reasons import is_wrong, unsettled
from reference.repaired.view import View
from reference.rules._say import layer
from reports.compared.value import Reason
from reports.text import plain
from reports.units import gib

ONE_SIZE = 1.06
"""Largest over smallest memory that the card's own layers may tell: they count the
same memory with and without what the driver keeps (an H100's differ by 0.6 %)."""
_LONGEST = 300


def names_agree(before: View, after: View) -> Iterator[Reason]:
    """Ask that no layer tells a name of its own that nobody knows.

    The judge holds known names against each other. One that was never made counts where
    the record before told it, or where NVML and OpenCL ask the same driver.
    """
    case = after.case
    told = {
        names.key(one.model)
        for one in (before.case.reported if before.outcome != "as claimed" else ())
        if one.model
    }
    asked = {one.layer for one in case.reported}
    own = names.key(case.reported_name or "")
    for one in case.reported:
        key = names.key(one.model or "")
        if key in ("", own) or one.layer == "pci" or case.is_standin(one):
            continue
        known = case.table.resolve(one.model or "")
        if known or case.table.chips_named(one.model or ""):
            continue
        if key in told or "nvml" in asked:
            yield unsettled(
                f"{layer(one)} names it {plain(one.model or '', _LONGEST)}, a name "
                "that the table of genuine cards does not know.",
                "write firmware that tells the same name to every layer, or install "
                "the maker's own driver, and test again",
            )


def ids_agree(_: View, after: View) -> Iterator[Reason]:
    """Ask that all layers read the same ids: there is one place where they are."""
    ids: dict[str, set[str]] = {"PCI id": set(), "subsystem": set()}
    for one in after.case.reported:
        for title, told in (("PCI id", one.pci_id), ("subsystem", one.subsystem)):
            if told and told.strip("0:"):
                ids[title].add(plain(told.casefold(), _LONGEST))
    for title, found in ids.items():
        if len(found) > 1:
            yield unsettled(
                f"The card's own layers do not tell one {title}: "
                f"{' and '.join(sorted(found))}.",
                "write the whole firmware, switch the PC off and on, and test again",
            )


def sizes_agree(_: View, after: View) -> Iterator[Reason]:
    """Ask that all layers tell one size."""
    case = after.case
    told = [
        one.memory_bytes
        for one in case.reported
        if one.memory_bytes and not case.is_standin(one)
    ]
    if not told:
        yield unsettled(
            "No layer of the card tells its memory.",
            "install the maker's own driver, and test again",
        )
    elif not (case.sees_part or _is_one(told, after)):
        yield Reason(
            sentence=f"The card's own layers do not tell one size: {gib(min(told))} "
            f"and {gib(max(told))}.",
            step="write firmware that tells the real size to every layer, or install "
            "the maker's own driver, and test again",
            wrong=is_wrong(after),
        )


def _is_one(sizes: list[int], after: View) -> bool:
    """Whether drivers may show one card's memory as all of these sizes."""
    case = after.case
    return max(sizes) <= ONE_SIZE * min(sizes) or any(
        all(case.fits(size, row) for size in sizes) for row in case.rows
    )
