"""The pages under reports/samples: each carries what it is said to carry, and holds."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from reports import codec
from reports.certificate.checking import verify
from reports.compared.page import records_of
from reports.page import record_bytes

SAMPLES = Path(__file__).parents[2] / "reports" / "samples"
CARRIED = {
    "practice-mirrored": (True, "not as claimed"),
    "practice-evidence-en": (True, "not as claimed"),
    "practice-evidence-de": (True, "not as claimed"),
    "practice-evidence-es": (True, "not as claimed"),
    "h100-sxm": (False, "as claimed"),
    "h100-evidence": (False, "not as claimed"),
    "h100-certificate": (False, "as claimed"),
}
COMPARED = {
    "practice-compare": (True, "not as claimed"),
    "h100-compare": (False, "as claimed"),
}
# RFC 8032, section 7.1, test 1: the public key to the secret one that signs samples.
KNOWN = bytes.fromhex(
    "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
)


def test_one_page_of_each_kind_is_there():
    pages = {page.stem for page in SAMPLES.glob("*.html")}
    assert pages == {*CARRIED, *COMPARED}


@pytest.mark.parametrize("name", CARRIED)
def test_a_sample_carries_its_record(name):
    page = (SAMPLES / f"{name}.html").read_bytes()
    record = codec.decode(record_bytes(page, name), name)
    assert (record.practice, record.verdict.outcome) == CARRIED[name]


@pytest.mark.parametrize("name", COMPARED)
def test_a_sample_carries_both_records(name):
    before, after = records_of((SAMPLES / f"{name}.html").read_bytes(), name)
    first, last = codec.decode(before, name), codec.decode(after, name)
    assert (first.practice, first.verdict.outcome) == COMPARED[name]
    assert (last.practice, last.verdict.outcome) == (first.practice, "as claimed")


def test_the_certificate_holds_and_is_the_known_keys():
    page = (SAMPLES / "h100-certificate.html").read_bytes()
    found = verify(page, None, now=datetime(2027, 1, 1, tzinfo=UTC))
    assert found.holds
    assert found.complete
    assert found.public.raw == KNOWN
