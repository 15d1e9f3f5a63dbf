"""Contents of firmware chips, invented: seeds, mutators, what is done with them."""

import io
import struct
from functools import cache
from random import Random

import made_firmware
from fuzz import mutators, seeds
from rich.console import Console

from probe.identity import drm_parse, firmware_image
from reference.firmware.look import look
from reference.table import Table
from reports.codec import decode
from reports.firmware import render_firmware
from reports.firmware_report import decode_report, encode_report

SIZE = 64 * 1024


@cache
def images() -> list[bytes]:
    """Return images of two makers, short chips."""
    made = (
        made_firmware.nvidia(chip_size=0),
        made_firmware.dressed_up(),
        made_firmware.amd(chip_size=0),
    )
    return [one.rstrip(b"\xff")[: 90 * 1024] for one in made]


def mutate(data: bytes, rnd: Random) -> bytes:
    """Change tables and offsets where they lie: in the first four KiB."""
    made = bytearray(data)
    for _ in range(rnd.choice((1, 1, 2, 4, 16))):
        reach = min(len(made), 0x1000)
        if reach < 8 or rnd.random() < 0.05:
            return mutators.blind(bytes(made), rnd)
        at = rnd.randrange(reach - 4)
        match rnd.randrange(6):
            case 0:
                struct.pack_into(
                    "<H",
                    made,
                    at,
                    rnd.choice((0, 1, 0xFFFF, 0x8000, len(made) & 0xFFFF, at)),
                )
            case 1:
                made[at] = rnd.choice((0, 1, 2, 0x7F, 0x80, 0xFF))
            case 2:
                made[at] ^= 1 << rnd.randrange(8)
            case 3:
                text = mutators.string(rnd).encode("utf-8", "surrogatepass")[:200]
                made[at : at + len(text)] = text
            case 4:
                struct.pack_into(
                    "<I", made, at, rnd.choice((0, 0xFFFFFFFF, 1 << 31, len(made), at))
                )
            case _:
                end = rnd.randrange(at, reach)
                made[at:end] = made[: end - at]
    return bytes(made[: mutators.MOST + 4096])


@cache
def _table() -> Table:
    return Table(seeds.few_rows())


@cache
def _record():
    return decode(seeds.slim_records()[0])


def looked_at(data: bytes) -> None:
    """Read, judge, fit and show a chip's content."""
    half = data[: len(data) // 2]
    report = look(
        [("a.rom", data), ("b.rom", half or b"\0")],
        _table(),
        version="0",
        claim="GeForce GTX 1070",
        record=_record(),
        against=("c.rom", data[::-1] or b"\0"),
    )
    assert decode_report(encode_report(report))
    file = io.StringIO()
    Console(file=file, width=80, color_system=None, markup=False).print(
        render_firmware(report, 80)
    )
    shown = file.getvalue()
    assert not any(
        (ord(one) < 32 and one != "\n") or 127 <= ord(one) < 160 for one in shown
    )


def kept(data: bytes) -> None:
    """Read images and answers that the system and open drivers keep."""
    firmware_image.vfct(data)
    drm_parse.radeon({}, data)


def tables() -> list[bytes]:
    """Return an ACPI table with one image."""
    image = images()[2][:2048]
    head = struct.pack("<IIIHHHHII", 0x100, 0, 0, 0x1002, 0x67DF, 0, 0, 0, len(image))
    start = struct.pack(
        "<4sI28s16sI", b"VFCT", 56 + len(head) + len(image), b"", b"", 56
    )
    return [start + head + image]
