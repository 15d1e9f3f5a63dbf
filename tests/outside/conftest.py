"""What the outside checks share: the extracts, and how agreement is counted."""

import csv
from pathlib import Path

import pytest

from reference.table import load

DATA = Path(__file__).parents[1] / "data" / "outside"


@pytest.fixture(scope="session")
def table():
    return load()


@pytest.fixture(scope="session")
def extract():
    """Read an extract: a list of dicts (.csv) or of tuples (.tsv)."""

    def read(name):
        with (DATA / name).open(newline="") as file:
            lines = [line for line in file if not line.startswith("#")]
        if name.endswith(".csv"):
            return list(csv.DictReader(lines))
        return [tuple(line.rstrip("\n").split("\t")) for line in lines]

    return read


@pytest.fixture
def agreement(record_property):
    """Count what agrees; whatever does not must be listed with its reason.

    `broken` maps a name to what is wrong; `reasons` maps a name, or how it begins, to
    why that is right so. A reason for something that is not broken is out of date.
    """

    def count(title, total, broken, reasons, least):
        share = 1 - len(broken) / total
        record_property(
            "agreement",
            f"{title}: {total - len(broken)} of {total} ({share:.2%}, at least "
            f"{least:.0%} asked for), {len(broken)} listed with a reason",
        )
        listed = tuple(reasons)
        unlisted = [f"{k}: {broken[k]}" for k in broken if not k.startswith(listed)]
        assert not unlisted, "\n".join(unlisted)
        idle = [one for one in listed if not any(k.startswith(one) for k in broken)]
        assert not idle, f"reasons for nothing: {idle}"
        assert share >= least

    return count
