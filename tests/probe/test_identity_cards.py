"""PCs of our own invention: which layers are one card, and which card is meant.

Ids: pci.ids. Sizes as drivers print them: 8573157376 for AMD's 8 GiB, 8 GiB exactly
for NVIDIA's (public device listings).
"""

import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from probe.errors import HostError, UsageError
from probe.identity import select as choosing
from probe.identity.bus import AMD, INTEL, NVIDIA, BusDevice, BusSight, DriverWord
from probe.identity.cards import facts, find
from probe.identity.nvml import Nvml, NvmlDevice, NvmlSight
from probe.identity.opencl import OpenClDevice, OpenClSight
from probe.identity.pairing import pair
from probe.identity.select import select
from reports.record import Claim

GIB = 2**30
GTX = "NVIDIA GeForce GTX 1070"
UUID = bytes(range(1, 17))
linux_only = pytest.mark.skipif(
    sys.platform == "win32", reason="the advice names Linux packages"
)


def cl(label=GTX, vendor=NVIDIA, platform="NVIDIA CUDA", *, rank=0, **more):
    size = more.pop("memory", 8 * GIB)
    return OpenClDevice(
        **{
            "handle": object(),
            "platform": platform,
            "rank": rank,
            "kind": "gpu",
            "label": label,
            "vendor_id": vendor,
            "address_rule": "address from cl_khr_pci_bus_info"
            if more.get("address")
            else None,
            "largest_block_bytes": size // 4,
            "claim": Claim(
                layer="opencl",
                source=f"OpenCL, platform {platform}",
                model=label,
                memory_bytes=size,
            ),
        }
        | more
    )


def nv(address="0000:01:00.0", *, uuid=None, partitioned=False, **more):
    claim = {"model": GTX, "memory_bytes": 8 * GIB, "free_bytes": 7 * GIB} | more
    return NvmlDevice(
        handle=f"handle of {address}",
        address=address,
        uuid=uuid,
        drives_display=None,
        partitioned=partitioned,
        claim=Claim(layer="nvml", source="NVML", vendor="NVIDIA", **claim),
    )


def pci(address="0000:01:00.0", vendor=NVIDIA, device=0x1B81, **more):
    return BusDevice(
        **{
            "address": address,
            "vendor": vendor,
            "device": device,
            "device_class": 0x030000,
            "source": "sysfs",
        }
        | more
    )


def pc(opencl=(), nvml=(), bus=(), **sight):
    return find(
        lambda: OpenClSight(devices=tuple(opencl), **sight),
        lambda: NvmlSight(library=Nvml(library=None), devices=tuple(nvml)),
        lambda: BusSight(devices=tuple(bus)),
    )


def cpu():
    return cl(
        "A processor",
        INTEL,
        "Portable Computing Language",
        rank=2,
        kind="cpu",
        unified_memory=True,
    )


def test_one_card_through_all_layers():
    inventory = pc([cl(address="0000:01:00.0")], [nv()], [pci(driver="nvidia")])
    (card,) = inventory.cards
    assert inventory.notes == ()
    assert card.identity.label == GTX
    assert card.identity.pci_address == "0000:01:00.0"
    assert card.identity.paired_by == "address from cl_khr_pci_bus_info"
    assert [claim.layer for claim in card.claims] == ["opencl", "nvml", "pci"]
    assert (card.memory_bytes, card.free_bytes) == (8 * GIB, 7 * GIB)
    assert card.largest_block_bytes == 2 * GIB
    assert card.sensors_missing is None
    assert select(inventory, None) is card
    assert facts(card, "events").claims == card.claims


def test_two_cards_told_apart_by_address():
    rx = cl(
        "AMD Radeon RX 580",
        AMD,
        "AMD Accelerated Parallel Processing",
        address="0000:03:00.0",
        memory=8573157376,
    )
    inventory = pc(
        [rx, cl(address="0000:01:00.0"), cpu()],
        [nv()],
        [pci(), pci("0000:03:00.0", AMD, 0x67DF)],
    )
    labels = [(card.identity.index, card.identity.label) for card in inventory.cards]
    assert labels == [(0, GTX), (1, "AMD Radeon RX 580"), (2, "A processor")]
    assert select(inventory, "1").memory_bytes == 8573157376
    assert select(inventory, "03:00.0").identity.index == 1
    assert select(inventory, "0000:01:00.0").identity.index == 0
    assert select(inventory, "00000000:01:00").identity.index == 0
    assert select(inventory, "cpu").identity.index == 2
    assert [card.identity.index for card in choosing.testable(inventory)] == [0, 1]
    with pytest.raises(UsageError) as error:
        select(inventory, None)
    assert str(error.value) == (
        "Several graphics cards are here; say which one is meant:\n"
        "  --card 0  NVIDIA GeForce GTX 1070 at 0000:01:00.0 (NVIDIA CUDA)\n"
        "  --card 1  AMD Radeon RX 580 at 0000:03:00.0 "
        "(AMD Accelerated Parallel Processing)"
    )


def test_two_equal_cards_keep_their_own_layers():
    inventory = pc(
        [cl(address="0000:02:00.0", memory=2 * GIB), cl(address="0000:01:00.0")],
        [nv("0000:01:00.0"), nv("0000:02:00.0", memory_bytes=2 * GIB, free_bytes=GIB)],
        [pci("0000:01:00.0"), pci("0000:02:00.0", device=0x0FC6)],
    )
    first, second = inventory.cards
    assert (first.memory_bytes, second.memory_bytes) == (8 * GIB, 2 * GIB)
    assert second.claims[-1].pci_id == "10de:0fc6"
    assert second.free_bytes == GIB


def test_same_card_through_two_platforms_is_one():
    inventory = pc(
        [
            cl(
                "AMD Radeon RX 580 (Mesa)",
                AMD,
                "rusticl",
                rank=1,
                address="0000:03:00.0",
                memory=16 * GIB,
            ),
            cl(
                "AMD Radeon RX 580",
                AMD,
                "AMD Accelerated Parallel Processing",
                address="0000:03:00.0",
                domain_known=False,
                memory=8573157376,
            ),
        ],
        bus=[pci("0000:03:00.0", AMD, 0x67DF)],
    )
    (card,) = inventory.cards
    assert card.identity.platform == "AMD Accelerated Parallel Processing"
    assert card.identity.also_seen_through == ("rusticl",)
    assert card.memory_bytes == 8573157376  # Mesa may count the PC's memory
    assert [claim.layer for claim in card.claims] == ["opencl", "opencl", "pci"]


def test_a_guest_platform_alone_is_believed_after_the_driver():
    device = cl("RX 580", AMD, "rusticl", rank=1, memory=16 * GIB)
    word = DriverWord(source="amdgpu", memory_bytes=8 * GIB, free_bytes=7 * GIB)
    (card,) = pc([device], bus=[pci("0000:03:00.0", AMD, 0x67DF, word=word)]).cards
    assert (card.memory_bytes, card.free_bytes) == (8 * GIB, 7 * GIB)
    (alone,) = pc([device]).cards
    assert alone.memory_bytes == 16 * GIB


def test_folded_by_uuid_without_any_address():
    inventory = pc([cl(uuid=UUID), cl("GTX 1070", platform="Other", rank=2, uuid=UUID)])
    (card,) = inventory.cards
    assert card.identity.paired_by == "device UUID"
    assert card.identity.also_seen_through == ("Other",)
    assert card.identity.pci_address is None


def test_uuid_leads_to_nvml_and_its_address():
    inventory = pc([cl(uuid=UUID)], [nv("0000:65:00.0", uuid=UUID)], [])
    (card,) = inventory.cards
    assert card.identity.pci_address == "0000:65:00.0"
    assert card.identity.paired_by == "device UUID"
    assert card.free_bytes == 7 * GIB
    assert UUID.hex() not in repr(inventory)
    assert repr(UUID) not in repr(inventory)


def test_the_kernel_drivers_uuid_pairs_without_nvml():
    bus = [pci(uuid=UUID), pci("0000:02:00.0")]
    inventory = pc([cl(uuid=UUID)], bus=bus)
    card = inventory.cards[0]
    assert card.identity.pci_address == "0000:01:00.0"
    assert card.identity.paired_by == "device UUID"
    assert UUID.hex() not in repr(inventory)
    assert repr(UUID) not in repr(inventory)


def test_address_and_uuid_together_are_on_record():
    (card,) = pc([cl(address="0000:01:00.0", uuid=UUID)], [nv(uuid=UUID)]).cards
    rule = "address from cl_khr_pci_bus_info, and the device UUID"
    assert card.identity.paired_by == rule


def test_uuid_that_one_platform_gives_twice_pairs_nothing():
    inventory = pc(
        [cl(uuid=UUID), cl(uuid=UUID), cl(platform="Other", rank=2, uuid=UUID)]
    )
    assert len(inventory.cards) == 3


def test_only_card_of_its_maker():
    device = cl("RX 580", AMD, "OpenCLOn12", rank=2)
    (card,) = pc([device], bus=[pci("0000:03:00.0", AMD, 0x67DF)]).cards
    assert card.identity.pci_address == "0000:03:00.0"
    assert card.identity.paired_by == "only card of AMD"


def test_two_of_a_maker_and_no_address_stay_unpaired():
    inventory = pc([cl(), cl()], bus=[pci("0000:01:00.0"), pci("0000:02:00.0")])
    assert len(inventory.cards) == 4
    assert all(card.identity.paired_by is None for card in inventory.cards)


def test_a_second_platform_without_addresses_is_noted_not_folded():
    inventory = pc(
        [
            cl(address="0000:01:00.0"),
            cl(address="0000:02:00.0"),
            cl(platform="OpenCLOn12", rank=2),
        ],
        bus=[pci("0000:01:00.0"), pci("0000:02:00.0")],
    )
    assert len(inventory.cards) == 3
    assert inventory.notes == (
        (
            "NVIDIA GeForce GTX 1070 (OpenCLOn12) gives no PCI address: it may be a "
            "card that is listed through NVIDIA CUDA too."
        ),
    )


def test_no_domain_and_two_domains_fit():
    inventory = pc(
        [cl(address="0000:01:00.0", domain_known=False)],
        bus=[pci("0000:01:00.0"), pci("0001:01:00.0")],
    )
    assert len(inventory.cards) == 3
    assert inventory.notes == (
        (
            "NVIDIA GeForce GTX 1070 (NVIDIA CUDA) is left unpaired: its driver gives "
            "no PCI domain, and 0000:01:00.0 and 0001:01:00.0 both fit."
        ),
    )


def test_no_domain_and_one_fits():
    (card,) = pc(
        [cl(address="0000:01:00.0", domain_known=False)], bus=[pci("0002:01:00.0")]
    ).cards
    assert card.identity.pci_address == "0002:01:00.0"


def test_driver_names_another_makers_place():
    inventory = pc([cl(address="0000:03:00.0")], bus=[pci("0000:03:00.0", AMD, 0x67DF)])
    assert len(inventory.cards) == 2
    assert inventory.notes == (
        (
            "NVIDIA GeForce GTX 1070 (NVIDIA CUDA) is left unpaired: its driver puts "
            "it at 0000:03:00.0, where the bus shows a card of AMD."
        ),
    )


def test_instances_of_one_board_are_not_folded():
    inventory = pc(
        [cl(address="0000:01:00.0"), cl(address="0000:01:00.0")],
        [nv(partitioned=True, memory_bytes=None, free_bytes=None)],
        [pci()],
    )
    assert [card.identity.pci_address for card in inventory.cards] == [
        "0000:01:00.0",
        None,
        None,
    ] or [card.identity.pci_address for card in inventory.cards] == [
        None,
        None,
        "0000:01:00.0",
    ]
    assert sum("share the address" in note for note in inventory.notes) == 2


def test_intel_by_device_id():
    arc = cl("Arc A750", INTEL, "Intel(R) OpenCL Graphics", pci_device=0x56A1)
    uhd = cl(
        "UHD Graphics",
        INTEL,
        "Intel(R) OpenCL Graphics",
        pci_device=0xA780,
        unified_memory=True,
    )
    inventory = pc(
        [uhd, arc],
        bus=[pci("0000:00:02.0", INTEL, 0xA780), pci("0000:03:00.0", INTEL, 0x56A1)],
    )
    assert [card.identity.paired_by for card in inventory.cards] == [
        "PCI device id"
    ] * 2
    assert select(inventory, None).identity.label == "Arc A750"


def test_two_of_one_intel_id_stay_unpaired():
    arc = [
        cl("Arc A750", INTEL, "Intel(R) OpenCL Graphics", pci_device=0x56A1)
        for _ in range(2)
    ]
    inventory = pc(arc, bus=[pci("0000:03:00.0", INTEL, 0x56A1)])
    assert len(inventory.cards) == 3


def test_built_in_graphics_gives_way_to_the_card():
    uhd = cl(
        "UHD",
        INTEL,
        "Intel(R) OpenCL",
        address="0000:00:02.0",
        unified_memory=True,
    )
    inventory = pc([uhd, cl(address="0000:01:00.0")])
    assert select(inventory, None).identity.label == GTX
    alone = pc([uhd])
    assert select(alone, None).identity.label == "UHD"


@linux_only
def test_built_in_graphics_never_stands_in_for_a_silent_card():
    uhd = cl(
        "UHD",
        INTEL,
        "Intel(R) OpenCL",
        address="0000:00:02.0",
        unified_memory=True,
    )
    inventory = pc(
        [uhd],
        bus=[
            pci("0000:00:02.0", INTEL, 0xA780),
            pci(name="GK107 [GeForce GTX 650]", device=0x0FC6, driver="nouveau"),
        ],
    )
    with pytest.raises(HostError) as error:
        select(inventory, None)
    assert str(error.value) == (
        "GK107 [GeForce GTX 650] at 0000:01:00.0 cannot be tested: no OpenCL driver "
        "shows it.\n"
        "  PCI shows 0000:01:00.0: NVIDIA GK107 [GeForce GTX 650] (10de:0fc6), driver "
        "nouveau\n"
        "Next: install NVIDIA's own driver with its OpenCL part (Debian: nvidia-driver "
        "and nvidia-opencl-icd; Ubuntu: ubuntu-drivers install); an old chip needs the "
        "last driver series that knows it.\n"
        "What can be tested instead:\n"
        "  --card 0  UHD at 0000:00:02.0 (Intel(R) OpenCL)"
    )


@linux_only
def test_bus_only():
    word = DriverWord(
        source="amdgpu", model="RX 580", memory_bytes=8 * GIB, firmware="113-X"
    )
    inventory = pc(
        bus=[pci("0000:03:00.0", AMD, 0x67DF, driver="amdgpu", word=word)],
        notes=("OpenCL finds no driver at all.",),
        loader="/usr/lib/libOpenCL.so.1",
        vendors_folder="/etc/OpenCL/vendors",
    )
    (card,) = inventory.cards
    assert card.opencl_device is None
    assert card.identity.label == "RX 580"
    assert card.identity.paired_by is None
    assert card.memory_bytes == 8 * GIB
    with pytest.raises(HostError) as error:
        select(inventory, None)
    assert str(error.value) == (
        "No graphics card here can be tested: OpenCL finds no driver at all.\n"
        "  OpenCL's loader: /usr/lib/libOpenCL.so.1\n"
        "  OpenCL drivers registered in /etc/OpenCL/vendors: none\n"
        "  PCI shows 0000:03:00.0: AMD device (1002:67df), driver amdgpu\n"
        "  Its driver says: RX 580, 8.0 GiB, firmware 113-X\n"
        "Next: install an OpenCL driver for AMD (Debian, Ubuntu: mesa-opencl-icd, used "
        "with RUSTICL_ENABLE=radeonsi in the environment; or AMD's own ROCm)."
    )
    with pytest.raises(HostError, match=r"RX 580 at 0000:03:00\.0 cannot be tested"):
        select(inventory, "0")
    with pytest.raises(HostError, match="no OpenCL driver shows this card"):
        facts(card, "events")


def test_a_driver_out_of_reach_is_the_next_step():
    obstacle = "this user may not open /dev/dri/renderD128: add the user to the group"
    inventory = pc(bus=[pci("0000:03:00.0", AMD, 0x67DF, obstacle=obstacle)])
    with pytest.raises(HostError) as error:
        select(inventory, None)
    assert str(error.value).endswith(f"Next: {obstacle}.")
    assert inventory.cards[0].notes == (f"Not reachable: {obstacle}.",)


def test_nvml_only():
    inventory = pc(nvml=[nv()], bus=[pci()])
    (card,) = inventory.cards
    assert card.opencl_device is None
    assert [claim.layer for claim in card.claims] == ["nvml", "pci"]
    assert card.identity.paired_by == "PCI address"
    assert card.identity.label == GTX
    assert (card.memory_bytes, card.largest_block_bytes) == (8 * GIB, None)


def test_virtual_machine_with_a_console_alone():
    inventory = pc([cpu()], bus=[pci("0000:00:02.0", 0x1234, 0x1111)])
    assert [card.identity.kind for card in inventory.cards] == ["cpu", "other"]
    with pytest.raises(HostError) as error:
        select(inventory, None)
    assert str(error.value) == (
        "No graphics card here can be tested: OpenCL shows no graphics card, only "
        "A processor.\n"
        "  PCI shows no graphics card, only a display of QEMU.\n"
        "Next: check that the card sits firmly in its slot and that its power plugs "
        "are in; in a virtual machine, hand the card through to it."
    )


def test_nothing_at_all():
    inventory = pc()
    assert inventory.cards == ()
    for wanted in (None, "0"):
        with pytest.raises(HostError, match="PCI shows no graphics card"):
            select(inventory, wanted)
    with pytest.raises(HostError, match="pocl-opencl-icd"):
        select(inventory, "cpu")


def test_virtual_machine_where_the_driver_alone_knows_the_place():
    inventory = pc([cl(address="0000:0b:00.0")], [nv("0000:0b:00.0")])
    (card,) = inventory.cards
    assert card.identity.pci_address == "0000:0b:00.0"
    assert card.free_bytes == 7 * GIB


@pytest.mark.parametrize(
    "wanted", ["2", "-1", "99999999999999999999", "05:00.0", "gtx", "", "1.0", "²"]
)
def test_no_such_card(wanted):
    inventory = pc([cl(address="0000:01:00.0")])
    with pytest.raises(UsageError) as error:
        select(inventory, wanted)
    assert str(error.value) == (
        f"There is no card {wanted!r} here; there are:\n"
        "  --card 0  NVIDIA GeForce GTX 1070 at 0000:01:00.0 (NVIDIA CUDA)"
    )


def test_board_cut_into_instances_is_said():
    gpu = nv(partitioned=True, memory_bytes=None, free_bytes=None)
    (card,) = pc([cl(address="0000:01:00.0", memory=10 * GIB)], [gpu]).cards
    assert card.memory_bytes == 10 * GIB
    assert card.notes[0].startswith("The board is cut into instances (MIG)")


def test_display_is_driven_where_any_layer_says_so():
    (card,) = pc([cl(address="0000:01:00.0")], bus=[pci(drives_display=True)]).cards
    assert card.identity.drives_display is True
    (card,) = pc([cl(address="0000:01:00.0")], bus=[pci(drives_display=False)]).cards
    assert card.identity.drives_display is False
    (card,) = pc([cl(address="0000:01:00.0")]).cards
    assert card.identity.drives_display is None


def test_nvml_silence_is_told_only_where_nvidia_is():
    def silent():
        return NvmlSight(notes=("NVML was not asked: no library.",))

    amd = find(
        OpenClSight, silent, lambda: BusSight(devices=(pci(vendor=AMD, device=0x67DF),))
    )
    nvidia = find(OpenClSight, silent, lambda: BusSight(devices=(pci(),)))
    assert amd.notes == ()
    assert nvidia.notes == ("NVML was not asked: no library.",)


def test_nvml_is_asked_before_opencl():
    order = []

    def note(name, sight):
        def read():
            order.append(name)
            return sight

        return read

    find(
        note("opencl", OpenClSight()),
        note("nvml", NvmlSight()),
        note("bus", BusSight()),
    )
    assert order.index("nvml") < order.index("opencl")


ADDRESSES = ["0000:01:00.0", "0000:02:00.0", "0001:01:00.0"]
opencls = st.builds(
    cl,
    vendor=st.sampled_from([NVIDIA, AMD, 0]),
    platform=st.sampled_from(["NVIDIA CUDA", "rusticl", "Other"]),
    rank=st.integers(0, 2),
    address=st.sampled_from([*ADDRESSES, None]),
    domain_known=st.booleans(),
    uuid=st.sampled_from([UUID, bytes([7]) * 16, None]),
    kind=st.sampled_from(["gpu", "cpu"]),
)
nvmls = st.builds(
    nv, st.sampled_from([*ADDRESSES, None]), uuid=st.sampled_from([UUID, None])
)
buses = st.lists(
    st.builds(pci, st.sampled_from(ADDRESSES), st.sampled_from([NVIDIA, AMD])),
    unique_by=lambda device: device.address,
    max_size=3,
)


@given(
    st.lists(opencls, max_size=4),
    st.lists(nvmls, max_size=2, unique_by=lambda gpu: gpu.address),
    buses,
)
def test_nothing_is_lost_or_doubled(opencl, nvml, bus):
    groups, _ = pair(opencl, nvml, bus)
    assert sorted(id(each) for group in groups for each in group.opencl) == sorted(
        map(id, opencl)
    )
    assert sorted(id(group.nvml) for group in groups if group.nvml) == sorted(
        map(id, nvml)
    )
    assert sorted(id(group.bus) for group in groups if group.bus) == sorted(
        map(id, bus)
    )
    for group in groups:
        platforms = [each.platform for each in group.opencl]
        assert len(platforms) == len(set(platforms))
        if group.opencl and group.bus and group.opencl[0].vendor_id:
            assert group.bus.vendor == group.opencl[0].vendor_id


@given(st.permutations(range(4)))
def test_order_in_which_layers_answer_changes_nothing(order):
    devices = [
        cl(address="0000:01:00.0"),
        cl(platform="Other", rank=2, address="0000:01:00.0"),
        cl("Another", address="0000:02:00.0"),
        cpu(),
    ]
    inventory = pc([devices[number] for number in order], [nv()], [pci()])
    assert [card.identity.label for card in inventory.cards] == [
        GTX,
        "Another",
        "A processor",
    ]
    assert inventory.cards[0].identity.platform == "NVIDIA CUDA"
