"""Linux's PCI files: made-up trees, laid out as the kernel lays them out.

Formats: the kernel's Documentation/ABI/testing/sysfs-bus-pci; speeds a lane: PCI
Express Base Specification. Ids of the cards and their audio functions: pci.ids.
"""

import pytest

from probe.identity import address, bus, bus_linux, pci_names, pci_sysfs


def function(root, place, *, driver=None, **files):
    folder = root / "sys/bus/pci/devices" / place
    folder.mkdir(parents=True)
    for name, text in files.items():
        (folder / name.replace("class_", "class")).write_text(text + "\n")
    if driver:
        module = root / "sys/bus/pci/drivers" / driver
        module.mkdir(parents=True, exist_ok=True)
        (folder / "driver").symlink_to(module)
    return folder


def gtx_1070(root, place="0000:01:00", driver="nvidia"):
    folder = function(
        root,
        f"{place}.0",
        driver=driver,
        vendor="0x10de",
        device="0x1b81",
        class_="0x030000",
        subsystem_vendor="0x1458",
        subsystem_device="0x3701",
        revision="0xa1",
        current_link_speed="2.5 GT/s PCIe",
        current_link_width="16",
        max_link_speed="8.0 GT/s PCIe",
        max_link_width="16",
        boot_vga="1",
    )
    function(
        root,
        f"{place}.1",
        driver="snd_hda_intel",
        vendor="0x10de",
        device="0x10f0",
        class_="0x040300",
    )
    return folder


def rx_580(root, place="0000:03:00"):
    folder = function(
        root,
        f"{place}.0",
        driver="amdgpu",
        vendor="0x1002",
        device="0x67df",
        class_="0x030000",
        subsystem_vendor="0x1da2",
        subsystem_device="0xe366",
        revision="0xe7",
        max_link_speed="8.0 GT/s PCIe",
        max_link_width="16",
        boot_vga="0",
        mem_info_vram_total="8589934592",
        mem_info_vram_used="34603008",
        vbios_version="113-D00034-L01",
    )
    function(root, f"{place}.1", vendor="0x1002", device="0xaaf0", class_="0x040300")
    output = folder / "drm/card0/card0-HDMI-A-1"
    output.mkdir(parents=True)
    (output / "status").write_text("connected\n")
    (folder / "drm/renderD128").mkdir()
    return folder


def read(root):
    return bus_linux.read(root, names=(root / "pci.ids",))


def test_a_card_with_its_audio_function(tmp_path):
    gtx_1070(tmp_path)
    information = tmp_path / "proc/driver/nvidia/gpus/0000:01:00.0/information"
    information.parent.mkdir(parents=True)
    information.write_text(
        "Model: \t\t NVIDIA GeForce GTX 1070\n"
        "IRQ:   \t\t 131\n"
        "GPU UUID: \t GPU-00000000-1111-2222-3333-444444444444\n"
        "Video BIOS: \t 86.04.26.00.80\n"
        "Bus Type: \t PCIe\n"
        "Bus Location: \t 0000:01:00.0\n"
    )
    version = tmp_path / "sys/module/nvidia/version"
    version.parent.mkdir(parents=True)
    version.write_text("535.183.01\n")
    (tmp_path / "pci.ids").write_text(
        "# a table\n"
        "10dd  Another Maker\n"
        "\t1b81  Not this one\n"
        "10de  NVIDIA Corporation\n"
        "\t1b80  GP104 [GeForce GTX 1080]\n"
        "\t1b81  GP104 [GeForce GTX 1070]\n"
        "\t\t1458 3701  Some board\n"
    )

    (card,) = read(tmp_path).devices

    assert card.address == "0000:01:00.0"
    assert (card.vendor, card.device, card.revision) == (0x10DE, 0x1B81, 0xA1)
    assert (card.link_generation, card.max_link_generation) == (1, 3)
    assert card.max_link_width == 16
    assert card.driver == "nvidia"
    assert card.drives_display is True
    assert [(each.address, each.device) for each in card.siblings] == [
        ("0000:01:00.1", 0x10F0)
    ]
    driver, pci = bus.claims(card)
    assert driver.model == "NVIDIA GeForce GTX 1070"
    assert driver.firmware == "86.04.26.00.80"
    assert driver.driver == "nvidia 535.183.01"
    assert pci.model == "GP104 [GeForce GTX 1070]"
    assert (pci.pci_id, pci.subsystem, pci.revision) == (
        "10de:1b81",
        "1458:3701",
        "a1",
    )
    assert (pci.link_generation, pci.link_width) == (3, 16)
    assert "UUID" not in repr(card)
    assert "44444444" not in repr(card)


def test_amd_says_its_memory_and_its_outputs(tmp_path):
    rx_580(tmp_path)

    (card,) = read(tmp_path).devices

    driver, pci = bus.claims(card)
    assert driver.memory_bytes == 8 * 2**30
    assert driver.free_bytes == 8 * 2**30 - 34603008
    assert driver.firmware == "113-D00034-L01"
    assert pci.model is None
    assert card.connectors == (("HDMI-A-1", "connected"),)
    assert card.drives_display is True
    assert card.render_node == str(tmp_path / "dev/dri/renderD128")


def test_a_full_card_has_nothing_free():
    files = {
        "vendor": "0x1002",
        "device": "0x67df",
        "class": "0x030000",
        "mem_info_vram_total": "1024",
        "mem_info_vram_used": "1024",
    }
    card = pci_sysfs.device("0000:01:00.0", files)
    assert card is not None
    assert card.word is not None
    assert card.word.free_bytes == 0


def test_a_real_h100_in_a_virtual_machine(tmp_path):
    # read on one H100 80GB HBM3, driver 580.159.04; its UUID replaced
    function(
        tmp_path,
        "0000:00:06.0",
        driver="nvidia",
        vendor="0x10de",
        device="0x2330",
        class_="0x030200",
        subsystem_vendor="0x10de",
        subsystem_device="0x16c1",
        revision="0xa1",
        current_link_speed="32.0 GT/s PCIe",
        current_link_width="16",
        max_link_speed="32.0 GT/s PCIe",
        max_link_width="16",
    )
    information = tmp_path / "proc/driver/nvidia/gpus/0000:00:06.0/information"
    information.parent.mkdir(parents=True)
    information.write_text(
        "Model: \t\t NVIDIA H100 80GB HBM3\n"
        "IRQ:   \t\t 41\n"
        "GPU UUID: \t GPU-00000000-0000-0000-0000-000000000000\n"
        "Video BIOS: \t 96.00.da.00.0c\n"
        "Bus Type: \t PCIe\n"
        "DMA Size: \t 52 bits\n"
        "DMA Mask: \t 0xfffffffffffff\n"
        "Bus Location: \t 0000:00:06.0\n"
        "Device Minor: \t 0\n"
        "GPU Firmware: \t 580.159.04\n"
        "GPU Excluded:\t No\n"
    )

    (card,) = read(tmp_path).devices

    driver, pci = bus.claims(card)
    assert (driver.model, driver.firmware) == (
        "NVIDIA H100 80GB HBM3",
        "96.00.da.00.0c",
    )
    assert (pci.pci_id, pci.subsystem, pci.revision) == (
        "10de:2330",
        "10de:16c1",
        "a1",
    )
    assert (pci.link_generation, pci.link_width) == (5, 16)
    assert card.siblings == ()
    assert card.drives_display is None


def test_two_cards_in_bus_order_and_no_third(tmp_path):
    rx_580(tmp_path)
    gtx_1070(tmp_path)
    function(
        tmp_path,
        "0000:00:1f.0",
        vendor="0x8086",
        device="0x7a04",
        class_="0x060100",
    )
    assert [card.address for card in read(tmp_path).devices] == [
        "0000:01:00.0",
        "0000:03:00.0",
    ]


def test_second_display_function_of_a_slot_is_a_sibling(tmp_path):
    # Radeons up to the X1000 series have one, class 0380 (pci.ids: "(Secondary)")
    function(
        tmp_path, "0000:01:00.0", vendor="0x1002", device="0x7249", class_="0x030000"
    )
    function(
        tmp_path, "0000:01:00.1", vendor="0x1002", device="0x7269", class_="0x038000"
    )
    (card,) = read(tmp_path).devices
    assert [each.device for each in card.siblings] == [0x7269]


def test_accelerator_class_counts_for_amd_alone(tmp_path):
    function(
        tmp_path, "0000:0c:00.0", vendor="0x1002", device="0x740f", class_="0x120000"
    )
    function(
        tmp_path, "0000:00:0b.0", vendor="0x8086", device="0x7d1d", class_="0x120000"
    )
    assert [card.address for card in read(tmp_path).devices] == ["0000:0c:00.0"]


def test_no_driver_no_outputs_nothing_known(tmp_path):
    function(
        tmp_path, "0000:01:00.0", vendor="0x10de", device="0x0fc6", class_="0x030000"
    )
    (card,) = read(tmp_path).devices
    assert card.driver is None
    assert card.drives_display is None
    assert card.word is None
    assert bus.describe(card) == ("0000:01:00.0: NVIDIA device (10de:0fc6), no driver")


def test_virtual_machine_without_pci(tmp_path):
    sight = read(tmp_path)
    assert sight.devices == ()
    assert sight.notes == (
        (
            "The PCI bus cannot be read: No such file or directory "
            f"({tmp_path}/sys/bus/pci/devices)."
        ),
    )


def test_rubbish_in_files_is_not_believed(tmp_path):
    function(
        tmp_path,
        "0000:01:00.0",
        vendor="0x10de",
        device="0x1b81",
        class_="0x030000",
        revision="\x1b[31m",
        max_link_speed="Unknown",
        max_link_width="255",
        mem_info_vram_total="-5",
        vbios_version="a\x1b]0;b",
    )
    function(tmp_path, "0000:02:00.0", vendor="", device="0x1", class_="0x030000")
    (card,) = read(tmp_path).devices
    assert card.revision is None
    assert card.max_link_generation is None
    assert card.max_link_width is None
    assert card.word is not None
    assert card.word.memory_bytes is None
    assert card.word.firmware == "a�]0;b"


def test_render_node_that_this_user_may_not_open(tmp_path, monkeypatch):
    rx_580(tmp_path)
    node = tmp_path / "dev/dri/renderD128"
    node.parent.mkdir(parents=True)
    node.touch()
    monkeypatch.setattr("os.access", lambda *_: False)
    (card,) = read(tmp_path).devices
    assert card.obstacle == (
        f"this user may not open {node}: add the user to the group render"
    )


def test_this_machine_is_read_without_error():
    sight = bus_linux.read()
    assert all(card.address for card in sight.devices)


@pytest.mark.parametrize(
    ("speed", "generation"),
    [
        ("2.5 GT/s PCIe", 1),
        ("5.0 GT/s PCIe", 2),
        ("5 GT/s", 2),
        ("8.0 GT/s PCIe", 3),
        ("16.0 GT/s PCIe", 4),
        ("32.0 GT/s PCIe", 5),
        ("64.0 GT/s PCIe", 6),
        ("Unknown", None),
        ("", None),
    ],
)
def test_link_speeds(speed, generation):
    assert address.link_generation(speed) == generation


@pytest.mark.parametrize(
    ("text", "normal"),
    [
        ("0000:01:00.0", "0000:01:00.0"),
        ("00000000:65:00.0", "0000:65:00.0"),
        ("00010000:0A:1f.7", "10000:0a:1f.7"),
        ("01:00.0", "0000:01:00.0"),
        ("01:00", "0000:01:00.0"),
        (" 1:0.0 ", "0000:01:00.0"),
        ("01:20.0", None),
        ("01:00.8", None),
        ("1", None),
        ("", None),
        ("card", None),
    ],
)
def test_addresses(text, normal):
    assert address.normal(text) == normal


def test_counts_that_a_record_cannot_hold():
    assert address.count(2**63 - 1) == 2**63 - 1
    assert address.count(2**64 - 1) is None
    assert address.count(-1) is None
    assert address.count(True) is None
    assert address.count("7") is None


def test_names_without_a_table(tmp_path):
    assert pci_names.from_system({(0x10DE, 1)}, (tmp_path / "none",)) == ({}, None)
