"""Whatever the bytes: a report that can be stored, or the one named error; and soon."""

import random
import time

import made_firmware as made
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reference.firmware.errors import ReadError
from reference.firmware.look import look
from reference.table import load
from reports.firmware_report import SIZE_LIMIT, decode_report, encode_report

IMAGES = (made.nvidia(), made.pascal(), made.dressed_up(), made.amd())
TABLE = load()


def stored(reads, **given):
    report = look(reads, TABLE, version="test", **given)
    data = encode_report(report)
    assert decode_report(data) == report
    return report


@given(st.binary(max_size=2000), st.text(max_size=20), st.text(max_size=20))
def test_arbitrary_bytes(data, name, claim):
    if not data:
        with pytest.raises(ReadError):
            stored([(name, data)], claim=claim)
        return
    stored([(name, data)], claim=claim, against=(name, data))


@st.composite
def spoiled(draw):
    """A made-up image with bytes changed, taken out or cut off."""
    data = bytearray(draw(st.sampled_from(IMAGES)))
    for place, value in draw(
        st.lists(
            st.tuples(st.integers(0, 0x1000), st.binary(min_size=1, max_size=4)),
            max_size=16,
        )
    ):
        made.put(data, place, value)
    start = draw(st.sampled_from((0, 0, 1, 512)))
    end = draw(st.sampled_from((None, None, 3, 0x190, 0x300, 0x8000, 0x12345)))
    return bytes(data[start:end]) or b"\0"


@given(spoiled(), spoiled(), st.sampled_from(("GTX 1070", "RX 480", "GTX 650", "?")))
def test_spoiled_images(data, other, claim):
    stored([("a", data), ("b", other)], claim=claim, against=("c", other))


@given(st.integers(0, 2**32), st.sampled_from(IMAGES))
def test_a_changed_byte_never_makes_an_image_better(seed, image):
    """Each image is whole: whatever one byte becomes, it is no more agreed with."""
    noise = random.Random(seed)
    data = bytearray(image)
    data[noise.randrange(60 * 1024)] ^= noise.randrange(1, 256)
    before = stored([("a", image)] * 3, claim="GTX 1070")
    after = stored([("a", bytes(data))] * 3, claim="GTX 1070")
    if before.outcome != "nothing against it":
        assert after.outcome != "nothing against it"


@pytest.mark.parametrize(
    "data",
    [
        random.Random(1).randbytes(2**20) * (SIZE_LIMIT // 2**20),
        b"\x55\xaa" * (SIZE_LIMIT // 2),
        b"\xff" * (SIZE_LIMIT - 1) + b"\0",
        made.pascal() + b"\xff" * (SIZE_LIMIT - 256 * 1024),
        made.dressed_up() * (SIZE_LIMIT // (256 * 1024)),
    ],
    ids=["noise", "headers", "empty", "small", "repeated"],
)
def test_the_largest_file_within_two_seconds(data):
    assert len(data) == SIZE_LIMIT
    look([("warm", made.pascal())], TABLE, version="test", claim="GTX 1070")
    started = time.process_time()
    look([("a", data)], TABLE, version="test", claim="GTX 1070")
    assert time.process_time() - started <= 2.0
