"""What was seen and read, as lines, on terminal and page; hostile words too."""

import made_firmware
import pytest
import samples
from consoles import console_of
from msgspec.structs import replace
from record_strategies import HOSTILE, with_every_text

from reference.firmware.look import look
from reference.table import load
from reports import codec, seen
from reports.figures import tables_of
from reports.inspection import Inspection, Photo
from reports.page import extract_record, render_page
from reports.terminal import render_result

EYE = Inspection(
    die="GK107-450-A2",
    die_surface="clear",
    outputs=("VGA", "DVI-D", *["DP"] * 6),
    plugs=(),
    memory_chips=4,
    memory_marking="MT41K256M16HA",
    memory_density_mbit=512,
    memory_width_bits=16,
    contacts=8,
    labels=("GTX 1070",),
    photos=(Photo(name="front.jpg", size_bytes=1234567, sha256="ab" * 32),),
)


@pytest.fixture(scope="module")
def report():
    reads = [(name, made_firmware.dressed_up()) for name in ("a.rom", "b.rom", "c.rom")]
    return look(reads, load(), version="0", claim="GeForce GTX 1070")


def test_every_answer_has_its_line():
    assert dict(seen.inspected(EYE)) == {
        "Marking of the die": "GK107-450-A2",
        "State of that marking": "legible",
        "Sockets for displays": "VGA, DVI-D, DP, DP, DP, DP, and 2 more",
        "Power connectors": "none",
        "Memory chips": "4, 512 Mbit each, 16 bits wide, marked MT41K256M16HA",
        "Contacts of its edge": "for 8 lanes",
        "Labels": "GTX 1070",
        "Photos": "front.jpg (sha256 abababababab…)",
    }


def test_what_nobody_looked_at_has_none():
    assert seen.inspected(None) == ()
    assert seen.inspected(Inspection()) == ()
    assert seen.firmware(None) == ()


def test_a_read_of_firmware(report):
    told = dict(seen.firmware(report))
    assert told["Reads"] == "3, the same, byte for byte"
    assert told["Version"] == "80.07.95.00.07"
    assert told["PCI id in it"] == "10de:1b81"
    assert "GK107 by its version" in told["Made for"]
    assert told["By itself"].startswith("This is not the firmware of a GeForce GTX")


def test_both_stand_on_terminal_page_and_in_the_figures(report):
    record = replace(samples.mirrored_1070(), inspection=EYE, firmware_report=report)
    console = console_of(80)
    console.print(render_result(record, 80))
    data = codec.encode(record)
    page = render_page(record, data)
    for text in (console.shown(), page):
        assert "What was seen on it" in text
        assert "What its firmware holds" in text
        assert "GK107-450-A2" in text
    assert extract_record(page) == data
    titles = {table.title for table in tables_of(record)}
    assert {"Photos", "Reads of its firmware"} <= titles
    assert "A person looked at the card itself." in page
    assert "3 reads of its firmware chip were taken apart." in page


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_words_stay_words(report, text):
    record = replace(samples.mirrored_1070(), inspection=EYE, firmware_report=report)
    hostile = with_every_text(record, text[:256] or "x")
    page = render_page(hostile)
    assert "<img" not in page
    assert "<b>" not in page
    console = console_of(80)
    console.print(render_result(hostile, 80))
    assert "\x1b" not in console.shown()
