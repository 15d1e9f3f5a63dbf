"""Every identity layer of a real H100 80GB HBM3 (SXM), as read on the day and kept in
tests/data/golden: serial numbers and UUIDs removed, all else as it was told.

What the layers were read from is there too, so today's parsers are held against it.
Published beside: NVIDIA's H100 datasheet (80 GB, PCIe Gen5), CUDA C++ Programming Guide
(compute capability 9.0), Khronos' cl_khr_pci_bus_info, PCI ID repository (10de:2330).
"""

import json
import re
from pathlib import Path

import msgspec
import pytest
from msgspec.structs import replace

from probe.identity import opencl_parse, pci_sysfs
from reference.judge import judge
from reference.table import load
from reports import codec
from reports.record import CardIdentity, Claim, Host, Program, Record

GOLDEN = Path(__file__).parents[1] / "data" / "golden" / "h100-layers.json"
LAYER_RULES = {
    "silicon-id", "sibling-function", "firmware-version", "firmware-image",
    "driver-package", "analog-output", "link-maximum", "pci-id",
    "compute-capability", "bus-width", "lane-count", "compute-units",
}  # fmt: skip


@pytest.fixture(scope="module")
def dump():
    return json.loads(GOLDEN.read_text("utf-8"))


@pytest.fixture(scope="module")
def card(dump):
    (one,) = dump["cards"]
    return one


@pytest.fixture(scope="module")
def table():
    return load()


@pytest.fixture(scope="module")
def record(card):
    return Record(
        program=Program(version="0.1.0"),
        practice=False,
        started="2026-11-25T12:00:00Z",
        depth="quick",
        host=Host(system="Linux", release="6", machine="x86_64", python="3.13"),
        card=msgspec.convert(card["identity"], CardIdentity),
        claims=msgspec.convert(card["claims"], tuple[Claim, ...]),
    )


def sold(record, model):
    listing = Claim(layer="listing", source="given by the user", model=model)
    return replace(record, claims=(listing, *record.claims))


def test_nothing_names_the_board_or_its_owner(dump):
    text = json.dumps(dump)
    assert not re.search(r"(GPU|MIG)-[0-9a-f]{8}", text, re.IGNORECASE)
    assert not re.search(r"\b[0-9a-f]{8}-[0-9a-f]{4}-", text, re.IGNORECASE)
    assert not re.search(r"\b\d{13}\b", text)  # how NVIDIA's boards are numbered
    assert not re.search(r"serial|/root|/home|\w@\w", text, re.IGNORECASE)


def test_all_layers_tell_of_one_card(card):
    assert card["identity"]["paired_by"].startswith("address from cl_khr_pci_bus_info")
    layers = {claim["layer"] for claim in card["claims"]}
    assert layers == {"opencl", "nvml", "driver", "pci"}
    assert card["disagreements"] == []
    assert {claim["pci_id"] for claim in card["claims"]} - {None} == {"10de:2330"}
    assert {claim["subsystem"] for claim in card["claims"]} - {None} == {"10de:16c1"}


def test_todays_parser_of_the_bus_gives_the_same(dump, card):
    ((address, files),) = dump["system"]["pci"].items()
    (information,) = dump["system"]["information"].values()
    read = pci_sysfs.device(address, files, information=information)
    assert (read.vendor, read.device, read.revision) == (0x10DE, 0x2330, 0xA1)
    assert (read.max_link_generation, read.max_link_width) == (5, 16)
    assert read.word.firmware == "96.00.da.00.0c"
    assert card["identity"]["pci_address"] == read.address == address


def test_todays_parser_of_opencls_answers_gives_the_same(dump, card):
    (told,) = dump["opencl"]
    raw = {
        name: bytes.fromhex(value)
        for name, value in told["raw"].items()
        if name in {"pci_bus_info", "bus", "slot", "domain", "cc_major", "cc_minor"}
    }
    word = {name: int.from_bytes(data, "little") for name, data in raw.items()}
    address = card["identity"]["pci_address"]
    assert opencl_parse.bus_info(raw["pci_bus_info"]) == address
    slot = opencl_parse.nvidia_address(word["bus"], word["slot"], word["domain"])
    assert slot == address
    assert (word["cc_major"], word["cc_minor"]) == (9, 0)


def test_nvmls_answers_are_the_claim(dump, card):
    (told,) = (one["told"] for one in dump["nvml"])
    claim = next(one for one in card["claims"] if one["layer"] == "nvml")
    assert told["PciInfo"]["pciDeviceId"] == 0x2330 << 16 | 0x10DE
    assert told["NumGpuCores"] == claim["cores"] == 132 * 128
    assert told["MemoryBusWidth"] == claim["bus_width_bits"] == 5120
    assert told["MemoryInfo"]["total"] == claim["memory_bytes"]
    assert told["MaxPcieLinkGeneration"] == claim["link_generation"] == 5
    assert told["VbiosVersion"] == claim["firmware"]


def test_firmware_and_id_are_a_gh100s(card, table):
    versions = {claim["firmware"] for claim in card["claims"]} - {None}
    assert versions
    assert all(table.chips_by_firmware(one) == ("GH100",) for one in versions)
    assert table.chip_by_window("10de:2330") == "GH100"


def test_no_layer_accuses_it(record, table):
    for one in (record, sold(record, "H100 SXM")):
        judged = judge(one, table)
        assert judged.verdict.outcome == "undetermined"  # nothing was measured
        told = [one for one in judged.findings if one.rule in LAYER_RULES]
        assert len(told) >= 6
        assert {one.bearing for one in told} == {"agrees"}


def test_sold_as_another_card_its_layers_alone_decide(record, table):
    judged = judge(sold(record, "GeForce RTX 4090"), table)
    assert judged.verdict.outcome == "not as claimed"
    assert codec.decode(codec.encode(judged)) == judged
