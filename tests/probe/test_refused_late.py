"""A driver that finds only at the writing that it gave more memory than it has."""

import pytest
from fake_card import GIB, FakeCard

from probe.capacity import Proof, prove
from probe.errors import MemoryRefusedError


class Lazy(FakeCard):
    """Writes no more than `real` bytes at once."""

    def __init__(self, real):
        super().__init__(8 * GIB)
        self.real = real

    def sweep(self, action, blocks, tagging, done):
        if action == "write" and sum(b.size_bytes for b in blocks) > self.real:
            raise MemoryRefusedError("Card: the write pass failed", "NO")
        return super().sweep(action, blocks, tagging, done)


def run(card):
    proof = Proof(card, lambda _: None)
    prove(proof, lambda _name, _title, work: work())
    return proof


@pytest.mark.parametrize(("real", "proven"), [(2, 2), (3, 2), (1.5, 1)])
def test_what_can_be_written_is_proven(real, proven):
    card = Lazy(int(real * GIB))
    proof = run(card)
    result = proof.result()
    assert result.proven_bytes == result.covered_bytes == proven * GIB
    assert (result.ended_by, result.refusal) == (
        "driver refused",
        "Card: the write pass failed (NO)",
    )
    assert card.held == proven * GIB
    proof.release()
    assert card.held == 0


def test_where_nothing_can_be_written_the_refusal_is_told():
    with pytest.raises(MemoryRefusedError, match="the write pass failed"):
        run(Lazy(0))
