"""The listing of a PC's cards, exact to the character, and as data."""

import msgspec
import pytest

from reports.layers import DriverPackage, FirmwareImage, Function, Layers
from reports.listing import ListedCard, Listing, encode_inventory, render_inventory
from reports.record import CardIdentity, Claim


def listing():
    return Listing(
        cards=(
            ListedCard(
                identity=CardIdentity(
                    label="NVIDIA GeForce GTX 1070",
                    kind="gpu",
                    index=0,
                    pci_address="0000:01:00.0",
                    platform="NVIDIA CUDA",
                    also_seen_through=("rusticl",),
                    paired_by="address from cl_khr_pci_bus_info",
                    drives_display=True,
                    layers=Layers(
                        functions=(
                            Function(number=1, pci_id="10de:0e1b", device_class="0403"),
                            Function(number=2, pci_id="10de:ffff", device_class="ff00"),
                        ),
                        outputs=("DVI-I-1", "HDMI-A-1"),
                        package=DriverPackage(
                            matching_id="pci\\ven_10de&dev_0fc6",
                            line="nvidia_dev.1b81",
                        ),
                        images=(
                            FirmwareImage(
                                source="ACPI",
                                size_bytes=65536,
                                sha256="0" * 64,
                                pci_id="10de:0fc6",
                            ),
                        ),
                    ),
                ),
                claims=(
                    Claim(
                        layer="opencl",
                        source="OpenCL, platform NVIDIA CUDA",
                        model="NVIDIA GeForce GTX 1070",
                        memory_bytes=8 * 2**30,
                        compute_units=2,
                        compute_capability="3.0",
                        clock_mhz=1784,
                        driver="470.256.02",
                    ),
                    Claim(
                        layer="pci",
                        source="sysfs",
                        model="GK107 [GeForce GTX 650]",
                        pci_id="10de:0fc6",
                        link_generation=3,
                        link_width=16,
                    ),
                ),
                disagreements=("The layers disagree on the model.",),
                notes=("A [bold]note[/bold] with brackets.",),
            ),
            ListedCard(
                identity=CardIdentity(
                    label="AMD device 1002:67df", kind="gpu", index=1
                ),
                claims=(Claim(layer="driver", source="amdgpu"),),
                testable=False,
            ),
        ),
        notes=("OpenCL platform Odd is broken: X.",),
    )


def shown(console_of, what, width=80):
    console = console_of(width)
    console.print(render_inventory(what, width))
    lines = console.shown().splitlines()
    assert lines == [line.rstrip() for line in lines]
    return "\n".join(lines)


def test_text(console_of):
    assert (
        shown(console_of, listing())
        == """\
0  NVIDIA GeForce GTX 1070
   0000:01:00.0, graphics card, drives a display
   OpenCL   NVIDIA GeForce GTX 1070, 8.00 GiB, 2 units, compute capability 3.0,
            1784 MHz, driver 470.256.02
            OpenCL, platform NVIDIA CUDA
   PCI      GK107 [GeForce GTX 650], id 10de:0fc6, link up to PCIe 3.0 x16
            sysfs
   Beside   audio 10de:0e1b, class ff00 10de:ffff
   Outputs  DVI-I-1, HDMI-A-1
   Package  line nvidia_dev.1b81 for pci\\ven_10de&dev_0fc6
   Image    made for 10de:0fc6
   Paired   by address from cl_khr_pci_bus_info
   Also     through rusticl
   Differs  The layers disagree on the model.
   Note     A [bold]note[/bold] with brackets.

1  AMD device 1002:67df
   no PCI address, graphics card, no OpenCL: cannot be tested
   Driver  says nothing
           amdgpu

OpenCL platform Odd is broken: X."""
    )


def test_nothing_there(console_of):
    assert shown(console_of, Listing()) == (
        "No graphics card and no OpenCL device is seen here."
    )


@pytest.mark.parametrize("width", [40, 60, 80, 200])
def test_fits_every_width(console_of, width):
    lines = shown(console_of, listing(), width).splitlines()
    assert max(map(len, lines)) <= width


def test_signs_that_a_console_lacks_are_replaced(console_of):
    odd = ListedCard(identity=CardIdentity(label="Card\u00ae 日", kind="gpu", index=0))
    console = console_of(encoding="ascii")
    console.print(render_inventory(Listing(cards=(odd,)), 80))
    assert console.shown().splitlines()[0].startswith("0  Card? ?")


def test_json_comes_back_the_same():
    data = encode_inventory(listing())
    assert msgspec.json.decode(data, type=Listing) == listing()
    assert data.endswith(b"}\n")
