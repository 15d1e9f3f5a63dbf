"""What the table of genuine cards holds and lacks, as a terminal shows it.

Takes counts, counts nothing. Imports nothing above reports.
"""

from typing import TYPE_CHECKING

from reports import units
from reports.known import Coverage
from reports.terminal import Encodable
from reports.text import plain

if TYPE_CHECKING:
    from rich.console import RenderableType


def render_coverage(coverage: Coverage) -> "RenderableType":
    """Return counts by vendor and generation, then how complete each field is."""
    from rich.console import Group  # noqa: PLC0415 - start-up
    from rich.table import Table  # noqa: PLC0415 - start-up
    from rich.text import Text  # noqa: PLC0415 - start-up

    total = sum(coverage.variants.values())
    families = Table(box=None, padding=(0, 2, 0, 0), header_style="dim", pad_edge=False)
    families.add_column("vendor")
    families.add_column("generation", overflow="fold")
    for name in ("models", "variants", "facts"):
        families.add_column(name, justify="right", no_wrap=True)
    for one in coverage.families:
        families.add_row(
            one.vendor,
            Text(plain(one.family)),
            str(one.models),
            str(one.variants),
            units.percent(one.facts, 1.0),
        )
    fields = Table(box=None, padding=(0, 2, 0, 0), header_style="dim", pad_edge=False)
    fields.add_column("known of", overflow="fold")
    for vendor in (*coverage.variants, "all"):
        fields.add_column(vendor, justify="right", no_wrap=True)
    for field in coverage.fields:
        shares = [
            units.percent(field.known.get(vendor, 0), count)
            for vendor, count in coverage.variants.items()
        ]
        whole = units.percent(sum(field.known.values()), total)
        fields.add_row(Text(field.field), *shares, whole)
    counts = ", ".join(f"{vendor} {n}" for vendor, n in coverage.variants.items())
    return Encodable(
        Group(
            Text(f"{coverage.models} models in {total} variants: {counts}", "bold"),
            Text(f"Table {coverage.version}, sha256 {coverage.sha256[:16]}", "dim"),
            Text(""),
            families,
            Text(""),
            fields,
        )
    )
