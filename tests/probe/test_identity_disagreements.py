"""Layers of one card that contradict each other, and genuine ones that do not.

Names: pci.ids and public device listings of genuine cards; Intel's shortfall: public
reports of an A750 that shows 6791413760 of 8 GiB.
"""

import pytest

from probe.identity.disagreements import disagreements, same_model
from reports.record import Claim


def claim(layer, **more):
    return Claim(layer=layer, source=f"source of {layer}", **more)


def test_a_relabelled_card():
    found = disagreements(
        (
            claim(
                "opencl",
                model="NVIDIA GeForce GTX 1070",
                compute_capability="3.0",
                memory_bytes=8 * 2**30,
                compute_units=2,
            ),
            claim(
                "nvml",
                model="NVIDIA GeForce GTX 1070",
                compute_capability="6.1",
                memory_bytes=2 * 2**30,
                pci_id="10de:1b81",
            ),
            claim(
                "pci",
                model="GK107 [GeForce GTX 650]",
                pci_id="10de:0fc6",
            ),
        )
    )
    assert found == (
        "The layers disagree on the memory: OpenCL says 8.00 GiB, NVML 2.00 GiB.",
        "The layers disagree on the compute capability: OpenCL says 3.0, NVML 6.1.",
        (
            "The layers disagree on the model: OpenCL says NVIDIA GeForce GTX 1070, "
            "PCI GK107 [GeForce GTX 650]."
        ),
        (
            "The layers disagree on the model: NVML says NVIDIA GeForce GTX 1070, PCI "
            "GK107 [GeForce GTX 650]."
        ),
        "The layers disagree on the PCI id: NVML says 10de:1b81, PCI 10de:0fc6.",
    )


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("NVIDIA GeForce GTX 1070", "GP104 [GeForce GTX 1070]"),
        ("GeForce GTX 1060 6GB", "GP106 [GeForce GTX 1060 6GB]"),
        ("NVIDIA GeForce GTX 1060", "GP106 [GeForce GTX 1060 3GB]"),
        ("NVIDIA GeForce GTX 1070", "GP104BM [GeForce GTX 1070 Mobile]"),
        ("NVIDIA GeForce RTX 3070 Laptop GPU", "GA104M [GeForce RTX 3070 Mobile]"),
        ("NVIDIA H100 80GB HBM3", "GH100 [H100 SXM5 80GB]"),
        ("AMD Radeon RX 580 Series", "Ellesmere [Radeon RX 470/480/570/570X/580/580X]"),
        ("AMD Radeon HD 7900 Series", "Tahiti XT [Radeon HD 7970/8970 OEM / R9 280X]"),
        ("AMD Radeon R9 200 Series", "Hawaii PRO [Radeon R9 290/390]"),
        (
            "AMD Radeon RX 7900 XTX",
            "Navi 31 [Radeon RX 7900 XT/7900 XTX/7900 GRE/7900M]",
        ),
        ("Intel(R) Arc(TM) A750 Graphics", "DG2 [Arc A750]"),
        ("Radeon RX 6700 XT", "Navi 22 [Radeon RX 6700/6700 XT/6750 XT / 6800M]"),
        ("NVIDIA GeForce RTX 3060", "GA106 [GeForce RTX 3060 Lite Hash Rate]"),
        ("GRID V100-4Q", "GV100GL [Tesla V100 SXM2 16GB]"),
        ("NVIDIA GH200 480GB", "GH100 [GH200 120GB / 480GB]"),
        ("Radeon RX 5700 XT 50th Anniversary", "Navi 10 [Radeon RX 5700/5700 XT]"),
        ("Tesla V100-SXM2-16GB", "GV100GL [Tesla V100 SXM2 16GB]"),
    ],
)
def test_one_model_in_two_wordings(one, other):
    assert same_model(one, other) is True
    assert same_model(other, one) is True


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("NVIDIA GeForce GTX 1070", "GK107 [GeForce GTX 650]"),
        ("NVIDIA GeForce GTX 1050 Ti", "GF106 [GeForce GTS 450]"),
        ("NVIDIA GeForce GTX 1050 Ti", "GP107 [GeForce GTX 1050]"),
        ("NVIDIA GeForce RTX 2070 SUPER", "TU106 [GeForce RTX 2070]"),
        ("Radeon RX 580", "Baffin [Radeon RX 460/560D]"),
        ("AMD Radeon RX 500 Series", "Turks [Radeon HD 6670]"),
    ],
)
def test_different_models(one, other):
    assert same_model(one, other) is False
    assert same_model(other, one) is False


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("AMD Radeon Graphics", "Ellesmere [Radeon RX 470/480]"),
        ("GTX 1070", "NVIDIA Graphics Device"),
        ("", "GTX 1070"),
        ("Intel(R) Graphics [0x56a0]", "DG2 [Arc A770]"),
        ("Device 6860", "Vega 10 [Radeon Instinct MI25]"),
    ],
)
def test_a_name_that_tells_nothing(one, other):
    assert same_model(one, other) is None


def test_genuine_cards_disagree_on_nothing():
    nvidia = (
        claim(
            "opencl",
            model="NVIDIA H100 80GB HBM3",
            vendor="NVIDIA Corporation",
            memory_bytes=85017493504,
            compute_units=132,
            compute_capability="9.0",
        ),
        claim(
            "nvml",
            model="NVIDIA H100 80GB HBM3",
            memory_bytes=85520809984,
            pci_id="10de:2330",
            subsystem="10de:16c1",
            compute_capability="9.0",
        ),
        claim("pci", pci_id="10de:2330", subsystem="10de:16c1"),
    )
    amd = (
        claim(
            "opencl",
            model="AMD Radeon RX 6700 XT",
            memory_bytes=12868124672,
            compute_units=20,
        ),
        claim("opencl", memory_bytes=12884901888, compute_units=40),
        claim("driver", memory_bytes=12868124672),
    )
    intel = (
        claim(
            "opencl",
            vendor="Intel(R) Corporation",
            memory_bytes=6791413760,
            compute_units=448,
        ),
        claim("driver", memory_bytes=8 * 2**30),
    )
    assert disagreements(nvidia) == ()
    assert disagreements(amd) == ()
    assert disagreements(intel) == ()
    assert disagreements(()) == ()


def test_memory_just_inside_and_just_outside():
    full = 8 * 2**30
    for share, marks in ((0.945, 0), (0.935, 1)):
        claims = (
            claim("opencl", memory_bytes=int(full * share)),
            claim("driver", memory_bytes=full),
        )
        assert len(disagreements(claims)) == marks


def test_units_and_subsystem():
    found = disagreements(
        (
            claim("opencl", compute_units=36, subsystem="1da2:e366"),
            Claim(
                layer="opencl",
                source="OpenCL, platform rusticl",
                compute_units=32,
                subsystem="1da2:e353",
            ),
        )
    )
    assert found == (
        (
            "The layers disagree on the subsystem id: source of opencl says 1da2:e366, "
            "OpenCL, platform rusticl 1da2:e353."
        ),
        (
            "The layers disagree on the compute units: source of opencl says 36, "
            "OpenCL, platform rusticl 32."
        ),
    )
