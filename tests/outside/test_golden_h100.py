"""A real genuine card, measured once and kept: an H100 80GB HBM3 (SXM), driver
580.159.04, in tests/data/golden. Its figures against the maker's datasheet, and
today's judge against that record.

Source of the figures: NVIDIA H100 Tensor Core GPU datasheet (H100 SXM: FP32 67, FP64
34 TFLOP/s, 80 GB, 3.35 TB/s, up to 700 W, PCIe Gen5 128 GB/s both ways).
"""

from pathlib import Path

import msgspec
import pytest

from reference.judge import judge
from reference.table import load
from reports import codec
from reports.page import extract_record, render_page
from reports.record import Claim

GOLDEN = Path(__file__).parent.parent / "data" / "golden" / "h100-sxm.json"
DATASHEET = {
    "fp32": 67e12,
    "fp64": 34e12,
    "memory_read": 3.35e12,
    "memory_write": 3.35e12,
    "memory_copy": 3.35e12,
    "link_up": 64e9,
    "link_down": 64e9,
}


@pytest.fixture(scope="module")
def record():
    return codec.load(GOLDEN)


def test_todays_judge_calls_it_as_claimed(record):
    judged = judge(record, load())
    assert judged.verdict.outcome == "as claimed"
    assert not [f for f in judged.findings if f.bearing in {"contradicts", "fault"}]


@pytest.mark.parametrize(
    ("claim", "outcome"),
    [
        ("H200", "not as claimed"),
        ("H100 PCIe", "not as claimed"),
        ("A100 80GB PCIe", "not as claimed"),
        ("H100 SXM", "as claimed"),
    ],
)
def test_sold_as_another_card_it_is_found_out(record, claim, outcome):
    listing = Claim(layer="listing", source="given by the user", model=claim)
    sold = msgspec.structs.replace(record, claims=(listing, *record.claims))
    assert judge(sold, load()).verdict.outcome == outcome


@pytest.mark.parametrize("name", DATASHEET)
def test_its_rates_come_near_the_datasheet_and_never_above(record, name):
    rate = next(rate for rate in record.rates if rate.name == name)
    assert 0.80 * DATASHEET[name] < rate.value <= DATASHEET[name]
    assert rate.wrong == 0 < rate.checked


def test_the_envelopes_hold_the_measured_rates_and_the_datasheet(record):
    envelopes = {e.quantity: e for e in judge(record, load()).genuine.envelopes}
    for rate in record.rates:
        if rate.value is not None and rate.name in envelopes:
            envelope = envelopes[rate.name]
            assert envelope.low <= rate.value <= envelope.high
    for name, figure in DATASHEET.items():
        if name in envelopes:
            assert envelopes[name].low <= figure <= envelopes[name].high


def test_all_of_its_free_memory_was_proven(record):
    capacity = record.capacity
    assert capacity.proven_bytes == capacity.covered_bytes
    assert capacity.proven_bytes >= 0.985 * capacity.free_bytes
    assert {block.state for block in capacity.blocks} == {"proven"}
    for walk in capacity.passes:
        assert walk.bytes_moved / walk.seconds > 2.6e12


def test_no_launch_came_near_100_ms(record):
    longest = max(
        seconds
        for rate in record.rates
        for seconds in (*rate.sample_seconds, *rate.warmup_seconds)
    )
    assert longest < 0.1


def test_it_tells_nothing_of_the_owner():
    text = GOLDEN.read_text("utf-8").lower()
    for word in ("gpu-", "serial", "uuid", "/root", "/home", "hostname"):
        assert word not in text


def test_its_page_carries_it(record):
    data = GOLDEN.read_bytes()
    assert extract_record(render_page(record, data)) == data
