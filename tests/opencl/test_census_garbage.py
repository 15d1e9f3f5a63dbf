"""Counters that make no sense: what they name must still fit into a record."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from probe.device import Block
from probe.held import Held, as_block
from probe.opencl.sweeps import FOUND, _census

pytestmark = pytest.mark.opencl

WORD = st.integers(0, 2**32 - 1) | st.sampled_from([0, 1, 2**32 - 1])


@given(st.lists(WORD, min_size=FOUND, max_size=FOUND))
def test_any_counters_make_a_block_that_can_be_kept(words):
    held = Held(Block(0, 2**39, 2**30))
    held.add(_census(words))
    block = as_block(held, spilled=False)
    assert abs(block.mirror_distance_bytes or 0) < 2**63
    if block.flips is not None:
        assert 0 <= block.flips.first_byte < 2**63
        assert 0 <= block.flips.last_byte < 2**63
