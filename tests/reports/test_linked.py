import pytest
import samples
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from reports.linked import link_remark
from reports.record import Claim, Sample, Telemetry
from reports.summary import summarise

HELD = "; the card's own port knows 3.0 x16: slot, riser or PC hold it back"


def record(*states, own=((3, 16), (3, 16)), phase="link_up"):
    """A record whose link ran at `states` in a phase; its ports know `own`."""
    readings = [Sample(at_seconds=0.0, phase="before", link_generation=5, link_width=8)]
    readings += [
        Sample(at_seconds=1.0, phase=phase, link_generation=a, link_width=b)
        for a, b in states
    ]
    claims = tuple(
        Claim(layer=layer, source="x", link_generation=a, link_width=b)
        for layer, (a, b) in zip(("nvml", "pci"), own, strict=False)
    )
    return replace(
        samples.minimal(), claims=claims, telemetry=Telemetry(samples=tuple(readings))
    )


@pytest.mark.parametrize(
    ("made", "words"),
    [
        # Bytes each way: PCI Express Base Specification, after line coding.
        (
            record((1, 16), (3, 16)),
            "the link ran at PCIe 3.0 x16 (15.8 GB/s at best)",
        ),
        (
            record((3, 1)),
            f"the link ran at PCIe 3.0 x1 (985 MB/s at best){HELD}",
        ),
        (
            record((1, 16), (2, 16)),
            f"the link ran at PCIe 2.0 x16 (8.00 GB/s at best){HELD}",
        ),
        (record((2, 8), own=()), "the link ran at PCIe 2.0 x8 (4.00 GB/s at best)"),
        (
            record((2, 8), own=((3, 16), (2, 16))),  # nobody knows which is right
            "the link ran at PCIe 2.0 x8 (4.00 GB/s at best)",
        ),
        (record((4, 16)), "the link ran at PCIe 4.0 x16 (31.5 GB/s at best)"),
        (record((3, 1), phase="fp32"), ""),
        (record((None, None), (9, 99)), ""),
        (samples.minimal(), ""),
    ],
)
def test_what_the_link_ran_at_explains_and_accuses_not(made, words):
    assert link_remark(made, "link_up") == words


def test_the_remark_stands_beside_the_copies():
    made = record((3, 1))
    base = samples.mirrored_1070()
    shown = summarise(replace(base, claims=made.claims, telemetry=made.telemetry))
    told = {row.title: row.remark for row in shown.rates}
    assert "riser" in told["Link, PC to card"]
    assert not any("link ran" in told[title] for title in told if "Link" not in title)


counts = st.none() | st.integers(0, 2**63 - 1) | st.integers(0, 33)


@given(st.lists(st.tuples(counts, counts)), st.lists(st.tuples(counts, counts)))
def test_any_state_is_told_or_left_out(states, own):
    said = link_remark(record(*states, own=own), "link_up")
    assert said == "" or said.startswith("the link ran at PCIe ")
