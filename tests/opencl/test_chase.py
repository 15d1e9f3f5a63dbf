"""The chase keeps its place, whatever runs in between."""

import numpy as np
import pyopencl as cl
import pytest

from probe.device import Experiment

pytestmark = pytest.mark.opencl

FOOTPRINT = 65536
CHASE = Experiment(kind="chase", rounds=64, size_bytes=FOOTPRINT)
LINE_WORDS = 32


def place(card):
    words = np.empty(4, np.uint32)
    cl.enqueue_copy(card._queue, words, card._labours().place)
    return int(words[0])


def test_another_experiment_does_not_lead_it_astray(card):
    card.experiment(CHASE)
    before = place(card)
    card.experiment(Experiment(kind="chain", rounds=8))
    assert place(card) == before
    card.experiment(CHASE)
    assert place(card) != before
    assert place(card) % LINE_WORDS == 0
    assert place(card) < FOOTPRINT // 4
