"""The link's state in Linux's files, on made-up trees of the PCI bus.

Speeds a lane: PCI Express Base Specification (2.5, 5, 8, 16, 32, 64 GT/s), written as
the kernel's Documentation/ABI/testing/sysfs-bus-pci and pcie_link_speed print them.
"""

import pytest

from probe.identity.link_sysfs import LinkState, slot_port


def port(folder, vendor, kind, speed="2.5 GT/s PCIe", width="1"):
    folder.mkdir(parents=True, exist_ok=True)
    files = {"vendor": vendor, "class": kind}
    files |= {"current_link_speed": speed, "current_link_width": width}
    for name, text in files.items():
        (folder / name).write_text(text + "\n")
    return folder


@pytest.mark.parametrize(
    ("speed", "width", "read"),
    [
        ("2.5 GT/s PCIe", "16", (1, 16)),
        ("5.0 GT/s PCIe", "8", (2, 8)),
        ("8.0 GT/s PCIe", "16", (3, 16)),
        ("8 GT/s", "4", (3, 4)),
        ("16.0 GT/s PCIe", "1", (4, 1)),
        ("32.0 GT/s PCIe", "16", (5, 16)),
        ("64.0 GT/s PCIe", "2", (6, 2)),
        ("Unknown", "255", (None, None)),
        ("Unknown speed", "0", (None, None)),
        ("", "", (None, None)),
        ("\udcff8.0" * 3, "99999999999999999999999", (None, None)),
    ],
)
def test_what_the_kernel_prints(tmp_path, speed, width, read):
    (tmp_path / "current_link_speed").write_text(speed, errors="surrogateescape")
    (tmp_path / "current_link_width").write_text(width)
    assert LinkState(tmp_path).read() == read


def test_the_link_is_read_anew_each_time(tmp_path):
    link = LinkState(port(tmp_path / "card", "0x10de", "0x030000", width="16"))
    assert link.read() == (1, 16)
    port(tmp_path / "card", "0x10de", "0x030000", "8.0 GT/s PCIe", "16")
    assert link.read() == (3, 16)


def test_what_is_not_there_is_not_looked_for_again(tmp_path):
    link = LinkState(tmp_path)
    assert link.read() == (None, None)
    port(tmp_path, "0x10de", "0x030000", "8.0 GT/s PCIe", "16")
    assert link.read() == (None, None)


def tree(root, *ports):
    """Make ports one below the other, as under /sys/devices; return the card's link."""
    place = root / "devices/pci0000:00"
    for number, given in enumerate(ports):
        place = port(place / f"0000:{number:02x}:00.0", *given)
    link = root / "bus/card"
    link.parent.mkdir()
    link.symlink_to(place)
    return link


ROOT = ("0x1022", "0x060400", "8.0 GT/s PCIe", "1")
OUTER = ("0x1002", "0x060400", "8.0 GT/s PCIe", "1")
INNER = ("0x1002", "0x060400", "16.0 GT/s PCIe", "16")
CARD = ("0x1002", "0x030000", "16.0 GT/s PCIe", "16")


def test_the_switch_on_a_board_is_not_taken_for_the_slot(tmp_path):
    card = tree(tmp_path, ROOT, OUTER, INNER, CARD)
    assert slot_port(card).name == "0000:01:00.0"
    assert LinkState(card).read() == (3, 1)


@pytest.mark.parametrize(
    "ports",
    [
        (ROOT, CARD),
        (("0x1002", "0x060400"), CARD),  # a chipset of the card's own maker
        (("0x1002", "0x060000"), ("0x1002", "0x060400"), CARD),
        (ROOT, ("0x1022", "0x060400"), ("0x1022", "0x060400"), CARD),
        (("0x1002", "0x060000"), OUTER, INNER, CARD),
        (CARD,),
    ],
)
def test_a_card_without_a_switch_is_its_own_port(tmp_path, ports):
    card = tree(tmp_path, *ports)
    assert slot_port(card) == card
    assert LinkState(card).read() == (4, 16)
