"""The named conditions: found by any spelling, and consistent in what they claim."""

import subprocess
import sys

import pytest

from probe.errors import UsageError
from probe.practice.conditions import DEFAULT, NAMES, find, open_practice

GIB = 1 << 30


def test_every_condition_is_there():
    assert NAMES == (
        "as-claimed",
        "mirrored",
        "hollow",
        "spilled",
        "failing-cell",
        "scrambled",
        "hot",
        "overheating",
        "relabelled-sibling",
        "lying-driver",
        "unstable",
        "refused",
        "device-lost",
        "crashing-driver",
        "hanging-driver",
        "honest-after-reflash",
        "unknown-model",
        "busy",
        "weak-when-hot",
    )
    assert DEFAULT in NAMES


@pytest.mark.parametrize(
    "text", ["failing cell", "failing-cell", "Failing_Cell", " FAILING  CELL "]
)
def test_spelling_does_not_matter(text):
    assert find(text).name == "failing-cell"


def test_an_unknown_condition_lists_all():
    with pytest.raises(UsageError) as error:
        find("no such")
    first, *lines = str(error.value).splitlines()
    assert first == "no practice condition is called 'no such'; choose one of these:"
    assert [line.split()[0] for line in lines] == list(NAMES)
    assert lines[1] == (
        "  mirrored              "
        "called a GTX 1070: a GK107, its 2 GiB answer four times"
    )
    assert all(len(line) <= 80 for line in lines)


@pytest.mark.parametrize("size", [-1, 0, 4095])
def test_a_claim_too_small_is_refused(size):
    with pytest.raises(UsageError, match="claim 4096 or more"):
        open_practice(claimed=size)


@pytest.mark.parametrize("name", NAMES)
def test_layers_agree_with_each_other(name):
    with open_practice(name) as card:
        facts = card.facts
    layers = {claim.layer: claim for claim in facts.claims}
    assert set(layers) == (
        {"opencl", "pci"} if name == "unknown-model" else {"opencl", "nvml", "pci"}
    )
    assert {claim.pci_id for claim in layers.values() if claim.pci_id} == {
        layers["pci"].pci_id
    }
    models = {claim.model for claim in layers.values() if claim.model}
    assert models == {facts.identity.label}
    sizes = {claim.memory_bytes for claim in layers.values() if claim.memory_bytes}
    assert sizes == {facts.memory_bytes}
    assert facts.identity.pci_address == "0000:01:00.0"
    assert facts.identity.kind == "gpu"


@pytest.mark.parametrize(
    ("name", "model", "memory", "units", "pci_id", "capability"),
    [
        # Units and memory: NVIDIA's product pages. PCI ids: the PCI ID repository.
        # Compute capability: NVIDIA's list of CUDA GPUs.
        ("as-claimed", "GeForce GTX 1070", 8 * GIB, 15, "10de:1b81", "6.1"),
        ("mirrored", "GeForce GTX 1070", 8 * GIB, 15, "10de:1b81", "6.1"),
        ("honest-after-reflash", "GeForce GTX 650", 2 * GIB, 2, "10de:0fc6", "3.0"),
        # A GTX 1080 has 20 units; the driver counts this one's 15.
        ("relabelled-sibling", "GeForce GTX 1080", 8 * GIB, 15, "10de:1b80", "6.1"),
        ("lying-driver", "GeForce GTX 1080", 8 * GIB, 20, "10de:1b80", "6.1"),
    ],
)
def test_claims_of_known_models(name, model, memory, units, pci_id, capability):
    with open_practice(name) as card:
        opencl, nvml, pci = card.facts.claims
    assert opencl.model == nvml.model == model
    assert opencl.memory_bytes == memory
    assert opencl.compute_units == units
    assert pci.pci_id == pci_id
    assert opencl.compute_capability == capability


def test_a_busy_card_says_how_little_is_free():
    with open_practice("busy") as card:
        facts = card.facts
        used = card.sense("idle").memory_used_bytes
    assert 0.38 < facts.free_bytes / facts.memory_bytes < 0.40
    assert used == facts.memory_bytes - facts.free_bytes


def test_a_larger_claim_scales_what_is_real():
    with open_practice("mirrored", claimed=160 * GIB) as card:
        assert card.facts.memory_bytes == 160 * GIB
        assert {claim.memory_bytes for claim in card.facts.claims[:2]} == {160 * GIB}


def test_naming_conditions_does_not_load_numpy():
    code = (
        "import sys; from probe.practice.conditions import find; find('hot'); "
        "sys.exit('numpy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
