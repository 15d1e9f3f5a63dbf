import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.units import (
    duration,
    gib,
    link_rate,
    percent,
    quantity,
    significant,
    span,
)


@pytest.mark.parametrize(
    ("size", "text"),
    [
        (8 * 2**30, "8.00 GiB"),
        (79 * 2**30, "79.0 GiB"),
        (160 * 2**30, "160 GiB"),
        (85_520_809_984, "79.6 GiB"),
        (2**20, "1.00 MiB"),
        (256 * 2**20, "256 MiB"),
        (2**30 - 1, "1.00 GiB"),  # 1024 MiB after rounding
        (2**30 - 2**23, "1020 MiB"),
        (1024, "1.00 KiB"),
        (16, "16 bytes"),
        (1, "1 byte"),
        (0, "0 bytes"),
    ],
)
def test_sizes_are_binary(size, text):
    # IEC 80000-13: GiB = 2**30 bytes.
    assert gib(size) == text


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (64.8e12, "FLOP/s", "64.8 TFLOP/s"),
        (33.1e12, "FLOP/s", "33.1 TFLOP/s"),
        (811e9, "FLOP/s", "811 GFLOP/s"),
        (999.96e9, "FLOP/s", "1.00 TFLOP/s"),
        (3.2e12, "B/s", "3200 GB/s"),
        (32.9e12, "B/s", "32.9 TB/s"),
        (80.2e9, "B/s", "80.2 GB/s"),
        (512e6, "B/s", "512 MB/s"),
        (271e9, "op/s", "271 G op/s"),
        (33.4e12, "op/s", "33.4 T op/s"),
        (61.0, "°C", "61.0 °C"),
        (132, "", "132"),
        (8 * 2**30, "B", "8.00 GiB"),
        (0.0261, "s", "26.1 ms"),
        (0.0, "FLOP/s", "0 FLOP/s"),
    ],
)
def test_quantities(value, unit, text):
    # SI brochure, 9th edition: prefixes k, M, G, T are powers of 1000.
    assert quantity(value, unit) == text


@pytest.mark.parametrize(
    ("low", "high", "unit", "text"),
    [
        (58.9e12, 68.2e12, "FLOP/s", "58.9 to 68.2 TFLOP/s"),
        (0.9e12, 1.1e12, "FLOP/s", "0.900 to 1.10 TFLOP/s"),
        (132, 132, "", "132"),
        (114, 132, "", "114 to 132"),
        (7.6 * 2**30, 8 * 2**30, "B", "7.60 to 8.00 GiB"),
        (512 * 2**20, 2**30, "B", "512 MiB to 1.00 GiB"),
        (2**30, 2**30, "B", "1.00 GiB"),
        (1.0, 65.0, "s", "1.00 s to 1 min 5 s"),
        (65.0, 125.0, "s", "1 min 5 s to 2 min 5 s"),
        (5e9, 5e9, "B/s", "5.00 GB/s"),
    ],
)
def test_spans(low, high, unit, text):
    assert span(low, high, unit) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (58.6e-6, "58.6 µs"),
        (0.02607, "26.1 ms"),
        (0.99999, "1.00 s"),
        (6.214, "6.21 s"),
        (9.999, "10 s"),
        (59.7, "1 min"),
        (65, "1 min 5 s"),
        (3599.8, "1 h"),
        (8040, "2 h 14 min"),
        (0, "0 s"),
        (-1, "0 s"),
    ],
)
def test_durations(seconds, text):
    assert duration(seconds) == text


@pytest.mark.parametrize(
    ("part", "whole", "text"),
    [
        (3, 4, "75.0 %"),
        (1, 1, "100 %"),
        (10**9 - 1, 10**9, "over 99.9 %"),
        (1, 10**9, "under 0.01 %"),
        (0, 5, "0 %"),
        (0, 0, "0 %"),
    ],
)
def test_a_share_is_never_rounded_to_all_or_nothing(part, whole, text):
    assert percent(part, whole) == text


@given(st.floats(1e-30, 1e30))
def test_three_figures_keep_the_value(value):
    text = significant(value)
    assert "e" not in text
    assert float(text) == pytest.approx(value, rel=5.1e-3)


@given(st.floats(0, 1e30), st.floats(0, 1e30), st.sampled_from(["B", "B/s", "s", ""]))
def test_any_value_has_words(low, high, unit):
    assert quantity(low, unit)
    assert span(low, high, unit)


@pytest.mark.parametrize(
    ("generation", "lanes", "rate"),
    [
        # PCI Express Base Specification: GT/s a lane, less line coding.
        (1, 1, 0.25e9),
        (1, 16, 4e9),
        (2, 16, 8e9),
        (3, 16, 15.754e9),
        (4, 16, 31.508e9),
        (5, 16, 63.015e9),
        (6, 16, 121e9),
    ],
)
def test_the_rate_of_a_link(generation, lanes, rate):
    assert link_rate(generation, lanes) == pytest.approx(rate, rel=1e-4)


@pytest.mark.parametrize(
    ("generation", "lanes"), [(None, 16), (3, None), (0, 16), (3, 0), (7, 16), (3, 33)]
)
def test_no_such_link(generation, lanes):
    assert link_rate(generation, lanes) is None
