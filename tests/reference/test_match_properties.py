"""What holds of every ranking, whatever was measured."""

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_records import built, genuine
from msgspec.structs import replace

from reference.judge import judge
from reference.table import load
from reports import codec
from reports.record import CacheLevel, Structure

TABLE = load()
ROWS = TABLE.variants[:: max(1, len(TABLE.variants) // 60)]
MEASURED = tuple(field.name for field in msgspec.structs.fields(Structure))
counts = st.none() | st.integers(0, 2**63 - 1)
positive = st.none() | st.floats(0, 1e30)
structures = st.builds(
    Structure,
    units=counts,
    units_low=counts,
    units_high=counts,
    step=positive,
    second_step=st.none() | st.booleans(),
    link_ns=positive,
    lane_cycles=positive,
    warp_width=counts,
    resident_groups=counts,
    resident_bytes=counts,
    levels=st.lists(
        st.builds(CacheLevel, reaches_bytes=counts, hop_ns=st.floats(0, 1e30)),
        max_size=4,
    ).map(tuple),
)


def made(row, **fields):
    return built(genuine(row, TABLE, **fields), row, TABLE)


def sums(found):
    return sum(one.probability for one in found.chips) + found.others + found.unlisted


class TestProbabilities:
    """They add up to one, and are told the likeliest first."""

    @given(row=st.sampled_from(ROWS), clock=st.floats(0.6, 1.15))
    def test_they_add_up(self, row, clock):
        found = judge(made(row, clock=clock), TABLE).identified
        assert sums(found) == pytest.approx(1.0, abs=1e-9)
        chances = [one.probability for one in found.chips]
        assert chances == sorted(chances, reverse=True)
        assert all(0 <= one.alone <= one.probability for one in found.chips)
        assert 0 <= found.honest <= 1

    @given(row=st.sampled_from(ROWS))
    def test_the_same_record_is_ranked_the_same(self, row):
        record = made(row)
        again = replace(
            record,
            rates=tuple(reversed(record.rates)),
            claims=tuple(reversed(record.claims)),
        )
        assert judge(record, TABLE).identified == judge(again, TABLE).identified


class TestAbsence:
    """A missing measurement raises nothing and adds nothing."""

    @given(
        row=st.sampled_from(ROWS),
        gone=st.sets(st.sampled_from(MEASURED)),
        rates=st.sets(st.integers(0, 6)),
        unproven=st.booleans(),
    )
    def test_any_may_be_missing(self, row, gone, rates, unproven):
        record = made(row)
        bare = {name: getattr(Structure(), name) for name in gone}
        record = replace(
            record,
            structure=replace(record.structure, **bare),
            rates=tuple(
                rate for at, rate in enumerate(record.rates) if at not in rates
            ),
            capacity=None if unproven else record.capacity,
        )
        judged = judge(record, TABLE)
        assert codec.decode(codec.encode(judged)) == judged
        if judged.identified is not None:
            assert sums(judged.identified) == pytest.approx(1.0, abs=1e-9)

    def test_nothing_measured_singles_out_nothing(self):
        record = replace(made(ROWS[0]), structure=None, rates=(), capacity=None)
        assert judge(record, TABLE).identified is None

    def test_a_part_of_a_card_is_not_ranked(self):
        record = made(ROWS[0])
        claims = (replace(record.claims[1], model="NVIDIA H100 80GB HBM3 MIG 1g.10gb"),)
        assert judge(replace(record, claims=claims), TABLE).identified is None


class TestNonsense:
    """No figure that a record can hold makes the judge raise."""

    @given(row=st.sampled_from(ROWS), structure=structures)
    def test_any_structure_is_judged(self, row, structure):
        judged = judge(replace(made(row), structure=structure), TABLE)
        assert codec.decode(codec.encode(judged)) == judged
        assert judged.verdict is not None
