"""The terminal's view of a firmware report: any width, any encoding, any text."""

import made_firmware as made
import pytest
from consoles import console_of
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from record_strategies import texts

from reference.firmware.look import look
from reference.table import load
from reports.firmware import render_firmware
from reports.firmware_report import FirmwareString, decode_report, encode_report

TABLE = load()
DRESSED = look(
    [("a.rom", made.dressed_up()), ("b.rom", made.dressed_up()[:-5])],
    TABLE,
    version="test",
    claim="GTX 1070",
    against=("new.rom", made.pascal()),
)


def shown(report, width=80, encoding="utf-8"):
    console = console_of(width=width, encoding=encoding)
    console.print(render_firmware(report, width))
    return console.shown()


@pytest.mark.parametrize("width", [1, 20, 40, 80, 120, 200])
@pytest.mark.parametrize("encoding", ["utf-8", "ascii", "cp437"])
def test_any_width_and_encoding(width, encoding):
    text = shown(DRESSED, width, encoding)
    assert text.encode(encoding).decode(encoding) == text
    assert max(map(len, text.splitlines())) <= max(width, 20)


def test_a_report_goes_into_json_and_back():
    data = encode_report(DRESSED)
    assert decode_report(data) == DRESSED
    assert all(byte == 0x0A or byte >= 0x20 for byte in data)


@given(st.lists(texts, min_size=6, max_size=6), st.sampled_from((20, 80)))
def test_whatever_a_report_says_is_drawn(said, width):
    image = replace(
        DRESSED.image,
        preface=said[0],
        version=said[1],
        models=(said[2],),
        nvidia=replace(
            DRESSED.image.nvidia,
            strings=(FirmwareString(name=said[3], text=said[4]),),
            connectors=(said[5],),
        ),
    )
    report = replace(
        DRESSED,
        image=image,
        sentence=said[0],
        fit=tuple(replace(one, card=said[1], risk=said[2]) for one in DRESSED.fit),
        findings=(replace(DRESSED.findings[0], sentence=said[3], sources=(said[4],)),),
    )
    text = shown(report, width)
    assert not set("\x1b\x07\x85\u2028\u202e\u2066\r\0") & set(text)
