"""Thresholds of uses against what their sources print; the source stands at each.

Figures are written down here a second time, as printed, and never taken from the table
of thresholds. Read on 2026-11-26 where no "from memory" stands.
"""

import csv
from pathlib import Path
from statistics import median

import pytest

from reference.use_drivers import SUPPORT
from reference.use_needs import RATED, READING, WORKS

LEVELS = {
    (work.name, level.of): (level.least, level.full)
    for work in WORKS
    for level in work.levels
}
MB, GB, T = 1e6, 1e9, 1e12


@pytest.mark.parametrize(
    ("name", "of", "least", "full"),
    [
        # darktable user manual 4.0, memory & performance tuning: "4x32-bit floating
        # point" a pixel, 20 megapixels, two buffers, "between 600MB and 3GB"
        ("photos", "memory", 20e6 * 4 * 4 * 2, 3 * GB),
        # Autodesk, AutoCAD 2023: "1 GB GPU with 29 GB/s Bandwidth"; 2025, recommended:
        # 4 GB, 106 GB/s (both as retold by others)
        ("drawing", "memory", 1 * GB, 4 * GB),
        ("drawing", "memory_read", 0.75 * 29 * GB, 0.75 * 106 * GB),
        # Adobe: "2GB of GPU VRAM"; 4 GB for HD, 6 GB for 4K (as retold by others)
        ("editing-hd", "memory", 2 * GB, 4 * GB),
        ("editing-uhd", "memory", 4 * GB, 6 * GB),
        # Blender, requirements (from memory)
        ("scenes", "memory", 2 * GB, 8 * GB),
        # Sony, PlayStation 4, 2013: 8 GB, 176 GB/s, 1.84 TFLOP/s
        ("motion-hd", "memory", 2 * GB, 8 * GB),
        ("motion-hd", "memory_read", 0.4 * 0.75 * 176 * GB, 0.75 * 176 * GB),
        ("motion-hd", "fp32", 0.4 * 1.84 * T, 1.84 * T),
        # Microsoft, Xbox Series S, 2020: "8GB @ 224 GB/s", "4 TFLOPS"
        ("motion-qhd", "memory", 2 * GB, 8 * GB),
        ("motion-qhd", "memory_read", 0.4 * 0.75 * 224 * GB, 0.75 * 224 * GB),
        ("motion-qhd", "fp32", 0.4 * 4 * T, 4 * T),
        # Microsoft, Xbox Series X, 2020: "10 GB @ 560 GB/s", "12.155 TFLOPS"
        ("motion-uhd", "memory", 2.5 * GB, 10 * GB),
        ("motion-uhd", "memory_read", 0.4 * 0.75 * 560 * GB, 0.75 * 560 * GB),
        ("motion-uhd", "fp32", 0.4 * 12.155 * T, 12.155 * T),
        # Hugging Face, sayakpaul/sample-datasets, collated results: 8.961 and 7.866,
        # in GiB, as the same table gives 79.325 for a card of 80; and the wiki of
        # stable-diffusion-webui, Optimum SDXL Usage: "Nvidia (4gb)", parts in turn
        ("pictures", "memory", 4 * GB, 8.961 * 2**30),
        # Hugging Face, Transformers, GPU memory usage: 6 + 8 + 4 bytes a parameter;
        # "a 4B parameter model ... roughly 85GB"
        ("training", "memory", (6 + 8 + 4) * GB, 85 * GB / 4),
        # arithmetic: one picture of 3840 x 2160 x 4 bytes is 33,177,600 bytes
        ("desk-uhd", "memory", 3 * 33_177_600, 23 * 33_177_600),
        ("desk-uhd", "memory_read", 60 * 33_177_600, 240 * 33_177_600),
        ("desk-hd", "memory", 3 * 8_294_400, 23 * 8_294_400),
        ("desk-hd", "memory_read", 60 * 8_294_400, 240 * 8_294_400),
        # arithmetic: 12 bits a pixel (ITU-T H.264, 4:2:0, 8 bit), 12,441,600 bytes
        ("video-shown", "link_up", 24 * 12_441_600, 60 * 12_441_600),
        ("video-shown", "memory", 3 * 33_177_600, 3 * 33_177_600),
        # Intel 64 architecture, AVX2: two 256-bit multiply-add units a core (from
        # memory), 16 results a clock; 4 and 8 cores at 4 GHz
        ("double", "fp64", 256 * GB, 512 * GB),
        # ggml, block_q4_0: 18 bytes hold 32 weights (from memory); 1.2: EleutherAI,
        # Transformer Math 101
        ("text-8-4", "memory", 8e9 * 18 / 32, 1.2 * 8e9 * 18 / 32),
        ("text-70-4", "memory", 70e9 * 18 / 32, 1.2 * 70e9 * 18 / 32),
        ("text-8-16", "memory", 16 * GB, 19.2 * GB),
        ("text-8-16", "memory_read", None, 16 * GB * 238 / 60 * 100 / 75),
    ],
)
def test_thresholds_are_those_that_the_sources_print(name, of, least, full):
    found = LEVELS[name, of]
    assert found == (pytest.approx(least) if least else None, pytest.approx(full))


def test_reading_speed_in_tokens():
    """Brysbaert 2019: 238 words a minute; OpenAI: 100 tokens are about 75 words."""
    assert pytest.approx(238 / 60 * 100 / 75) == READING


def test_the_share_of_a_rated_speed_is_what_published_measurements_reach():
    """Lehmann's table: best of three precisions, a lower bound of a plain reading."""
    with (Path(__file__).parent / "lattice_bandwidth.csv").open() as file:
        rows = csv.DictReader(line for line in file if not line.startswith("#"))
        reached = [float(card["reached"]) for card in rows]
    assert len(reached) == 148
    assert median(reached) == RATED


@pytest.mark.parametrize(
    ("architecture", "answer", "word"),
    [
        # NVIDIA, CUDA Toolkit, Driver, and Architecture Matrix
        ("fermi-2.0", "no", "R390"),
        ("kepler-3.0", "no", "R470"),
        ("kepler-3.5", "no", "R470"),
        ("maxwell-5", "with limits", "R580"),
        ("pascal-6.1", "with limits", "R580"),
        ("volta-7.0", "with limits", "R580"),
        ("turing-7.5", "yes", "No end"),
        ("hopper-9.0", "yes", "No end"),
        # AMD, June 2021, as told by AnandTech and Tom's Hardware
        ("gcn-1", "no", "21.5.2"),
        ("gcn-3", "no", "21.5.2"),
        # AMD, November 2015, as told by ocaholic.ch
        ("terascale-2", "no", "15.7.1"),
    ],
)
def test_ends_of_drivers_as_published(architecture, answer, word):
    found = SUPPORT[architecture]
    assert found.answer == answer
    assert word in found.because


@pytest.mark.parametrize("architecture", ["gcn-4", "rdna-2", "xe-hpg", "cdna-1"])
def test_ends_that_nobody_published_here_are_not_told(architecture):
    assert architecture not in SUPPORT
