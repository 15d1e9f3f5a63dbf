"""A read of the firmware as findings of the card: genuine, forged, badly read, made up.

Firmware of our own invention after the published formats (tests/made_firmware.py).
"""

import made_firmware
import made_records as made
import pytest
from hypothesis import HealthCheck, given, settings
from msgspec import convert, inspect
from msgspec.structs import replace
from record_strategies import of

from reference.firmware.look import look
from reference.judge import judge
from reference.table import load
from reports import codec
from reports.firmware_report import FirmwareReport
from reports.page import render_page

GTX = "GeForce GTX 1070"


@pytest.fixture(scope="module")
def table():
    return load()


@pytest.fixture(scope="module")
def card(table):
    row = made.one(table, GTX, form="desktop")
    return made.built(made.genuine(row, table), row, table)


def read(record, table, *images):
    reads = [(f"{place}.rom", image) for place, image in enumerate(images)]
    return replace(record, firmware_report=look(reads, table, version="0"))


def told(record, table):
    return [f for f in judge(record, table).findings if f.rule.startswith("read-")]


def test_its_own_firmware_changes_nothing(card, table):
    record = read(card, table, *[made_firmware.pascal()] * 3)
    assert {f.bearing for f in told(record, table)} <= {"agrees", "explains"}
    assert judge(record, table).verdict.outcome == "as claimed"
    assert judge(record, table).verdict == judge(card, table).verdict


def test_another_chips_firmware_raises_doubt_and_never_decides(card, table):
    record = read(card, table, *[made_firmware.dressed_up()] * 3)
    strong = {f.rule for f in told(record, table) if f.strength == "strong"}
    assert "read-version-chip" in strong
    assert all(f.strength != "decisive" for f in told(record, table))
    verdict = judge(record, table).verdict
    assert verdict.outcome == "undetermined"
    assert "firmware read from it" in verdict.sentence


@pytest.mark.parametrize(
    "images",
    [
        (b"\xff" * 65536,),
        (bytes(65536),),
        (made_firmware.pascal(), made_firmware.pascal(version="86.04.50.00.42")),
        (made_firmware.dressed_up(), b"\xff" * 262144),
        (made_firmware.pascal()[:0x8000],),
        (b"no firmware at all",),
    ],
)
def test_a_bad_read_is_the_readings_fault(card, table, images):
    """A loose clip must neither break a card nor accuse it."""
    record = read(card, table, *images)
    found = told(record, table)
    assert all(f.strength == "supporting" for f in found)
    assert all(f.bearing != "fault" for f in found)
    assert judge(record, table).verdict.outcome == "as claimed"


@given(values=of(inspect.type_info(FirmwareReport)))
@settings(
    max_examples=60, deadline=None, suppress_health_check=list(HealthCheck)
)  # reports are large
def test_a_made_up_report_is_left_aside(values):
    record, table = _shipped()
    forged = replace(record, firmware_report=convert(values, FirmwareReport))
    judged = judge(forged, table)
    assert judged.verdict.outcome in {"as claimed", "undetermined"}
    assert render_page(judged, codec.encode(judged))


_KEPT = []


def _shipped():
    if not _KEPT:
        table = load()
        row = made.one(table, GTX, form="desktop")
        _KEPT.append((made.genuine(row, table), table))
    return _KEPT[0]


def test_it_is_compared_anew_with_todays_table(card, table):
    """What was concluded when it was read is not taken over."""
    record = read(card, table, made_firmware.dressed_up())
    emptied = replace(
        record, firmware_report=replace(record.firmware_report, findings=())
    )
    assert told(emptied, table) == told(record, table)
