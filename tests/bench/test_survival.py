"""A share of `tests/survival_bench.py`: calls struck, runs ended and interrupted.

And that its checks can fail: they are shown runs under a false name.
"""

import signal
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from random import Random

import cuts
import pytest
import strikes
import survived
from strikes import Point

pytestmark = pytest.mark.opencl

NEVER = 10**9
POINTS = (
    "quick:1:kill:always",
    "quick:9:garbage:once",
    "quick:60:kill:always",
    "quick:1200:hang:once",
    "quick:3000:garbage:once",
    "wrap:2500:kill:once",
    "quick:4000:code:always",
    f"quick:{NEVER}:code:once",
)


@pytest.fixture(scope="module")
def struck(layer, tmp_path_factory):
    """Carry all points out, some at a time: a run that hangs only waits."""
    folder = tmp_path_factory.mktemp("points")

    def one(text):
        return strikes.strike(layer, folder / text, Point.parse(text))

    with ThreadPoolExecutor(3) as pool:
        return dict(zip(POINTS, pool.map(one, POINTS), strict=True))


@pytest.mark.parametrize("point", POINTS)
def test_a_run_survives_a_fault(struck, point):
    assert survived.wrong(struck[point]) == []
    assert bool(struck[point].names) == (str(NEVER) not in point)


def test_a_fault_strikes_one_process_or_each(struck):
    assert len(struck["wrap:2500:kill:once"].names) == 1
    assert len(struck["quick:60:kill:always"].names) > 1


def test_what_ended_a_process_is_told(struck):
    for point, kind in (
        ("quick:1200:hang:once", "hung"),
        ("wrap:2500:kill:once", "killed"),
    ):
        record = survived.codec.decode(struck[point].record)
        assert [one.kind for one in record.incidents] == [kind]


def as_if(one, **told):
    """Return a run as if it had been another point's."""
    return replace(one, point=replace(one.point, **told))


def test_the_checks_can_fail(struck):
    whole = struck[f"quick:{NEVER}:code:once"]
    fake = struck["wrap:2500:kill:once"]
    found = survived.wrong(as_if(fake, scenario="quick"))
    assert any(one.startswith("falsely accused: ") for one in found)
    found = survived.wrong(as_if(whole, scenario="wrap"))
    assert any(one.startswith("a fake passed: ") for one in found)
    assert any(one.endswith(f" bytes proven of {strikes.WRAPPED}") for one in found)
    hung = struck["quick:1200:hang:once"]
    (found,) = survived.wrong(as_if(hung, fault="kill"))
    assert found.startswith("kill not told: ['hung']")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"code": 0}, "code 0 for undetermined"),
        ({"code": -signal.SIGSEGV}, "code -11 for undetermined"),
        ({"err": "Traceback (most recent call last):\n"}, "a bug: Traceback"),
        ({"err": "\x1b[2J\n"}, "unprintable on standard error"),
        ({"out": b"{}"}, "--json printed something else"),
        ({"left_running": ("python -P -c",)}, "still running"),
        ({"outlasted": True}, "it did not end"),
        ({"files": ("out/record.json",)}, "missing: out/report.html"),
    ],
)
def test_each_check_can_fail(struck, change, said):
    whole = struck[f"quick:{NEVER}:code:once"]
    (found,) = survived.wrong(replace(whole, ended=replace(whole.ended, **change)))
    assert found.startswith(said)


@pytest.mark.parametrize(
    "name",
    [
        "out/journal.txt",
        "out/.reserve",
        "state/cardassay/runs/1.json",
        "state/cardassay/turn-x.lock",
        "out/turn-link.lock",
        "tmp/x",
    ],
)
def test_every_file_too_many_is_seen(struck, name):
    whole = struck[f"quick:{NEVER}:code:once"]
    ended = replace(whole.ended, files=(*whole.ended.files, name))
    assert survived.wrong(replace(whole, ended=ended)) == [f"left over: {name}"]


def test_a_lock_s_file_is_not_too_many(struck):
    whole = struck[f"quick:{NEVER}:code:once"]
    kept = ("state/cardassay/card-pci-1.lock", "state/cardassay/turn-load.lock")
    ended = replace(whole.ended, files=(*whole.ended.files, *kept))
    assert survived.wrong(replace(whole, ended=ended)) == []


def test_without_a_record_one_clear_error_is_due(struck):
    ended = struck["quick:1:kill:always"].ended
    assert ended.code == 3
    silent = replace(ended, err="", code=1)
    said = survived.wrong(replace(struck["quick:1:kill:always"], ended=silent))
    assert said == ["code 1 and no record: ", "not one clear error: ''"]


@pytest.mark.parametrize("number", [0, 3, 19])
def test_a_run_that_is_ended_is_concluded(tmp_path, number):
    assert cuts.killed(tmp_path / "run", Random(number), number).wrong == []


@pytest.mark.parametrize("number", [2, 3, 9])
def test_a_run_that_is_interrupted_is_stored(tmp_path, number):
    assert cuts.stopped(tmp_path / "run", Random(number), number).wrong == []
