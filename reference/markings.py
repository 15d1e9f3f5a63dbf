"""What is printed on chips, as far as their makers publish how to read it.

A graphics chip: NVIDIA prints the chip's name first (`GP104-200-A1`), what follows
tells the product apart and is published nowhere; AMD prints a number that tells nothing
of the chip by any published rule. A memory chip: Micron's part numbers spell depth and
width (`MT51J256M32HF`: 256 M x 32; Micron: DRAM component part numbering). Of others
only what a maker's own product page states. All else: unknown, never guessed.
"""

import re
from typing import Final, NamedTuple

from reference import ask
from reference.table import Table

_MICRON: Final = re.compile(
    r"\bMT\d{2}[A-Z]{1,2}(\d{1,4})([MG])(4|8|16|32|64)(?=[A-Z\-:]|$)"
)
_PAGES: Final = re.compile(r"\bK4(?:G80325F|Z80325B)[A-Z]")
"""Samsung, product pages of K4G80325FB and K4Z80325BC: 8 Gbit, 256 M x 32."""
_AMD: Final = re.compile(r"^\s*21[5-9]-\d{7}\b")
_DENSEST_MBIT: Final = 2**18
MICRON: Final = "Micron: part numbering of DRAM components"
SAMSUNG: Final = "Samsung: product pages K4G80325FB, K4Z80325BC"


class MemoryPart(NamedTuple):
    """What a memory chip's part number says."""

    density_mbit: int
    width_bits: int
    source: str


def chips_on_die(marking: str, table: Table) -> tuple[str, ...]:
    """Return the chips that a die's marking names; empty where it names none.

    Lines are parted by `/`: each may begin with the chip's name.
    """
    for line in marking.split("/"):
        answer = ask.ask(table, line.strip())
        if answer.kind == "marking" or (answer.kind == "chip" and answer.chips):
            return answer.chips
        known = _marked(line.strip(), table)
        if known:
            return known
    return ()


def is_amds_number(marking: str) -> bool:
    """Whether a marking is a number as AMD prints it: it names no chip."""
    return any(_AMD.match(line) for line in marking.split("/"))


def memory_part(marking: str) -> MemoryPart | None:
    """Return density and width of a memory chip by its part number, where published."""
    text = marking.upper().replace(" ", "")
    found = _MICRON.search(text)
    if found:
        width = int(found[3])
        depth = int(found[1]) * (1024 if found[2] == "G" else 1)
        density = depth * width
        if 0 < density <= _DENSEST_MBIT:
            return MemoryPart(density, width, MICRON)
        return None
    if _PAGES.search(text):
        return MemoryPart(8192, 32, SAMSUNG)
    return None


def _marked(line: str, table: Table) -> tuple[str, ...]:
    """Return a chip that only the table of marks knows: no row is made of it."""
    head = re.split(r"[\s\-]", line, maxsplit=1)[0].upper()
    return (head,) if head in table.marks else ()
