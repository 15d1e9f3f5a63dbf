"""Every target under a few hostile inputs; `tests/fuzz_bench.py` runs the million."""

from random import Random

import pytest
from fuzz import registry
from fuzz.engine import fuzz
from fuzz.target import Target, limits, tried
from hypothesis import example, given, settings
from hypothesis import strategies as st
from record_strategies import records

from reports import codec

NAMES = [target.name for target in registry.TARGETS]


@pytest.fixture(scope="module", autouse=True)
def _ready():
    """Fill the caches, so that no input pays for them."""
    registry.table()
    for target in registry.TARGETS:
        target.seeds()


def ends_well(target, data):
    with limits():
        fault = tried(target, data)
    assert fault is None, (fault.place, fault.said, fault.data[:500])


@pytest.mark.parametrize("name", NAMES)
def test_every_seed_is_a_good_input(name):
    target = registry.by_name(name)
    for data in target.seeds():
        ends_well(target, data)


@pytest.mark.parametrize("name", NAMES)
@given(seed=st.integers(0, 2**63))
@settings(max_examples=15)
def test_mutations_end_well(name, seed):
    target = registry.by_name(name)
    rnd = Random(seed)
    data = rnd.choice(target.seeds())
    for _ in range(rnd.choice((1, 1, 3))):
        data = target.mutate(data, rnd)
    ends_well(target, data)


@pytest.mark.parametrize("name", NAMES)
@given(data=st.binary(max_size=200))
@example(b"")
@example(b"\xff\xfe\x00")
@settings(max_examples=15)
def test_bytes_end_well(name, data):
    ends_well(registry.by_name(name), data)


@given(record=records())
@settings(max_examples=15)
def test_whatever_the_schema_allows_can_be_judged_and_shown(record):
    registry.shown(codec.encode(record))


# --------------------------------------------------------------- the engine itself


def playing(run, allowed=()):
    return Target(
        name="played",
        run=run,
        allowed=allowed,
        seeds=lambda: [b"seed"],
        mutate=lambda data, rnd: data + bytes([rnd.randrange(256)]),
    )


def test_the_engine_counts_and_finds():
    def run(data):
        if data.endswith(b"\x07"):
            raise KeyError("bell")

    done, faults = fuzz(playing(run), 5000)
    assert done == 5000
    (fault,) = faults.values()
    assert fault.place.startswith("KeyError in ")
    assert fault.data.endswith(b"\x07")
    assert fuzz(playing(run, (KeyError,)), 5000) == (5000, {})


def test_the_engine_ends_an_input_that_never_ends(monkeypatch):
    monkeypatch.setattr("fuzz.target.SECONDS", 0.05)

    def run(data):
        while True:
            pass

    done, faults = fuzz(playing(run), 2)
    assert (done, list(faults)) == (2, ["TooSlow"])


def test_the_engine_gives_no_input_all_memory():
    def run(data):
        bytearray(2**34)

    _, faults = fuzz(playing(run), 1)
    assert next(iter(faults)).startswith("MemoryError")
