import pytest
import samples

from reports.codec import decode, encode


@pytest.mark.parametrize("make", samples.EVERY.values(), ids=samples.EVERY)
def test_every_sample_is_a_record(make):
    assert decode(encode(make())) == make()
