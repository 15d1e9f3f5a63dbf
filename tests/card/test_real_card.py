"""A real card, by hand: `pytest tests/card --card 0` (an index, an address, `cpu`).

The card is taken to be what it says: it must not be accused, and the counterfeit made
out of it (tests/bench) must be, with its real size proven to the byte.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

import counterfeit
import pytest

pytestmark = pytest.mark.card

ROOT = Path(__file__).parent.parent.parent
MIB = 2**20
LONGEST_SECONDS = 0.1
"""No launch may take longer: a display driver ends what seems to hang."""
MOST_REAL = 20 * 2**30
TIMES = 8
"""The counterfeit claims so many times what it has."""


def check(folder, environment, *options):
    done = subprocess.run(
        [
            *(sys.executable, "-m", "probe", "check", "--yes", "--quiet"),
            *("--out", str(folder), *options),
        ],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
    )
    path = folder / "record.json"
    assert path.exists(), done.stdout + done.stderr
    return json.loads(path.read_text("utf-8"))


@pytest.fixture(scope="module")
def wanted(request):
    return request.config.getoption("--card")


@pytest.fixture(scope="module")
def record(wanted, tmp_path_factory):
    folder = tmp_path_factory.mktemp("check") / "out"
    limit = ["--memory-limit", "1GiB"] if wanted == "cpu" else []
    return check(folder, dict(os.environ), "--card", wanted, *limit)


def test_it_is_not_accused(record):
    assert record["verdict"]["outcome"] in {"as claimed", "undetermined"}
    strong = [one for one in record["findings"] if one["strength"] != "supporting"]
    assert not [one for one in strong if one["bearing"] in {"contradicts", "fault"}]


def test_all_memory_that_was_held_is_proven(record):
    capacity = record["capacity"]
    assert capacity["proven_bytes"] == capacity["covered_bytes"] > 0
    assert {block["state"] for block in capacity["blocks"]} == {"proven"}


def test_every_result_is_right_and_no_launch_too_long(record):
    for rate in record["rates"]:
        assert rate["wrong"] == 0
        assert rate["checked"] > 0 or rate["value"] is None
        if record["card"]["kind"] == "gpu":  # a processor shares its time with others
            seconds = (*rate["sample_seconds"], *rate["warmup_seconds"])
            assert max(seconds, default=0.0) < LONGEST_SECONDS, rate["name"]


@pytest.mark.parametrize("kind", ["wrap", "hollow"])
def test_a_counterfeit_made_of_it_is_found_out(kind, wanted, record, tmp_path):
    layer = counterfeit.build(tmp_path)
    held = record["capacity"]["covered_bytes"]
    real = min(MOST_REAL, held // 4) // (64 * MIB) * 64 * MIB
    environment = counterfeit.environment(
        layer, kind=kind, real=real, claim=TIMES * real, device_type="gpu"
    )
    index = "0" if wanted == "cpu" else wanted
    options = ("--card", index, "--depth", "quick")
    forged = check(tmp_path / "out", environment, *options)
    states = {block["state"] for block in forged["capacity"]["blocks"]}
    assert states == {"proven", {"wrap": "mirrored", "hollow": "hollow"}[kind]}
    if kind == "wrap":  # hollow: a few small buffers of the program's own lie within
        assert forged["capacity"]["proven_bytes"] == real
    assert real - 64 * MIB <= forged["capacity"]["proven_bytes"] <= real
    assert forged["verdict"]["outcome"] == "not as claimed"
