"""A practice card before a repair and after it, tested once for all that need it."""

import functools
import tempfile
from pathlib import Path

from command_line import shipped
from msgspec.structs import replace

from probe import cli
from reports import codec
from reports.record import Claim

GIB = 2**30
ROW = """
vendor = "NVIDIA"
family = "GeForce 600"
source = ["memory"]
[[card]]
model = "{}"
chip = "GK107"
units = 2
base_mhz = 1058
l2_kib = 256
memory = [{{ mib = 2048, type = "GDDR5", bus_bits = 128, rate_mtps = 5000 }}]
pci = ["10de:0fc6"]
pcie = "3 x16"
power_w = 64
launch = "2012-09-13"
"""
"""A row of a file for `--reference`: a GK107 with 2 GiB under any name."""
LISTING = Claim(
    layer="listing",
    source="given by the user",
    model="GeForce GTX 1070",
    memory_bytes=8 * GIB,
)


@functools.cache
def practised(condition, depth="standard", soak="0"):
    """The record of a practice card, tested once."""
    with tempfile.TemporaryDirectory() as folder:
        cli.main(
            ["check", "--practice", condition, "--depth", depth, "--soak", soak,
             "--quiet", "--out", folder]
        )  # fmt: skip
        return codec.load(Path(folder) / "record.json")


def before():
    """Sold and reported as a GTX 1070 with 8 GiB: a GK107 with 2 GiB."""
    record = practised("mirrored")
    started = "2026-11-20T10:00:00+00:00"
    return replace(record, claims=(LISTING, *record.claims), started=started)


def after():
    """The same silicon under firmware that tells the truth, tested thoroughly."""
    record = practised("honest-after-reflash", "thorough", "2")
    return replace(record, started="2026-11-24T10:00:00+00:00")


def compared(first=None, last=None):
    """What comparing comes to; the two above where none is given."""
    from reference.repaired.compare import compare  # noqa: PLC0415 - after the table

    return compare(
        before() if first is None else first,
        after() if last is None else last,
        shipped(),
    )
