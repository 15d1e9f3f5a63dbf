from xml.etree import ElementTree as ET

from hypothesis import given
from hypothesis import strategies as st

from reports.pictures.latency import describe, latency_curve
from reports.record import CacheLevel, Latency, Structure

H100 = Structure(
    latencies=tuple(
        Latency(footprint_bytes=kib << 10, hop_ns=float(ns))
        for kib, ns in (
            (4, 21), (16, 23), (64, 29), (181, 43), (256, 107), (512, 144),
            (4096, 145), (23170, 151), (32768, 264), (65536, 345), (262144, 347),
        )
    ),
    levels=(
        CacheLevel(reaches_bytes=189091, low_bytes=16384, high_bytes=370688, hop_ns=22),
        CacheLevel(
            reaches_bytes=24204406, low_bytes=23726464, high_bytes=67108864, hop_ns=145
        ),
        CacheLevel(hop_ns=346),
    ),
)  # fmt: skip


def test_the_curve_is_a_picture_with_words():
    root = ET.fromstring(latency_curve(H100))
    names = [child.tag.rpartition("}")[2] for child in root]
    assert names[:2] == ["title", "desc"]
    assert any(e.tag.endswith("polyline") for e in root.iter())
    words = [e.text for e in root.iter() if e.tag.endswith("text")]
    assert "185 KiB" in words
    assert "23.1 MiB" in words
    assert "100 ns" in words


def test_a_narrow_range_of_times_has_more_than_one_told():
    flat = Structure(
        latencies=tuple(
            Latency(footprint_bytes=4096 << n, hop_ns=ns)
            for n, ns in enumerate((189.0, 190.0, 189.0, 350.0, 389.0, 390.0))
        )
    )
    root = ET.fromstring(latency_curve(flat))
    words = [e.text for e in root.iter() if e.tag.endswith("text")]
    assert {"200 ns", "300 ns"} <= set(words)


def test_the_levels_in_words():
    assert describe(H100.levels) == (
        "A hop takes 22.0 ns up to about 185 KiB, 145 ns up to about 23.1 MiB, "
        "346 ns beyond that."
    )
    assert describe(()) == "No level of the memory stands out."


def test_too_few_points_make_no_curve():
    assert latency_curve(Structure()) is None
    assert latency_curve(Structure(latencies=H100.latencies[:2])) is None


@given(st.lists(st.tuples(st.integers(0, 2**63 - 1), st.floats(0, 1e30)), max_size=40))
def test_any_curve_is_drawn_or_left_out(points):
    structure = Structure(
        latencies=tuple(Latency(footprint_bytes=a, hop_ns=b) for a, b in points),
        levels=tuple(CacheLevel(reaches_bytes=a or None, hop_ns=b) for a, b in points),
    )
    drawn = latency_curve(structure)
    if drawn is not None:
        ET.fromstring(drawn)
        assert "nan" not in drawn
