"""Firmware images of our own invention, laid out as the published formats say.

Offsets: PCI Firmware Specification 3.x chapter 5 (header, PCI data structure); NVIDIA's
BIOS Information Table and Device Control Block specifications; envytools' pstraps.rst
(strap words); nouveau (token i, M0203); Linux' atombios.h and atom.c. Nothing here is
taken from a real card's firmware.
"""

import random
import struct

KIB = 1024
_DISPLAY = 0x030000


def seal(image, place):
    """Set one byte so that all bytes add up to 0."""
    image = bytearray(image)
    image[place] = 0
    image[place] = -sum(image) & 0xFF
    return bytes(image)


def pcir(vendor, device, size, code_type=0, *, last=True, class_code=_DISPLAY):
    """Return a PCI data structure of revision 0."""
    return (
        b"PCIR"
        + struct.pack("<HHHHB", vendor, device, 0, 0x18, 0)
        + class_code.to_bytes(3, "little")
        + struct.pack("<HHBBH", size // 512, 0x0101, code_type, 0x80 * last, 0)
    )


def put(image, place, data):
    image[place : place + len(data)] = data


def x86(vendor, device, size=60 * KIB, *, last=True, noise=1):
    """Return a legacy image as a bytearray, its sum still to be put right."""
    image = bytearray(random.Random(noise).randbytes(size))
    image[:0x1000] = bytes(0x1000)
    put(image, 0, b"\x55\xaa" + bytes([size // 512]))
    put(image, 0x18, struct.pack("<H", 0x180))
    put(image, 0x180, pcir(vendor, device, size, last=last))
    return image


def efi(vendor, device, size=24 * KIB, *, last=True, noise=2):
    """Return an EFI image for x64."""
    image = bytearray(random.Random(noise).randbytes(size))
    image[:0x100] = bytes(0x100)
    put(
        image, 0, b"\x55\xaa" + struct.pack("<HIHHH", size // 512, 0xEF1, 11, 0x8664, 1)
    )
    put(image, 0x16, struct.pack("<HH", 0x100, 0x1C))
    put(image, 0x1C, pcir(vendor, device, size, 3, last=last))
    return bytes(image)


def nvidia(
    device=0x0FC6,
    version="80.07.95.00.07",
    date="06/21/12",
    *,
    subsystem=(0x1462, 0x2800),
    sign_on="GK107 Board - 20100010",
    product="GK107 Board",
    outputs=(2, 2, 0),
    sockets=(0x31, 0x61, 0x00),
    memory=(1, 3),
    straps=(0x7FFFFFFF, 0x80000000, 0x7FFFFFFF, 0x80000000),
    with_efi=True,
    efi_device=None,
    chip_size=256 * KIB,
    header=b"",
):
    """Return the whole content of a chip: a GK107 unless told otherwise."""
    image = x86(0x10DE, device, last=not with_efi)
    put(image, 0x54, struct.pack("<HH", *subsystem))
    put(image, 0x58, struct.pack("<4I", *straps))
    put(image, 0x36, struct.pack("<H", 0x400))
    _dcb(image, 0x400, outputs, sockets)
    _bit(image, 0x200, version, date, (sign_on, product), memory)
    whole = seal(image, len(image) - 1)
    if with_efi:
        whole += efi(0x10DE, device if efi_device is None else efi_device)
    whole = header + whole
    return whole + b"\xff" * (chip_size - len(whole))


def _dcb(image, place, outputs, sockets):
    table = place + 0x100
    put(
        image,
        place,
        struct.pack("<BBBBHI", 0x40, 0x1B, len(outputs) + 1, 8, 0, 0x4EDCBDCB),
    )
    put(image, place + 0x14, struct.pack("<H", table))
    for number, kind in enumerate(outputs):
        word = 0x01000300 | number << 12 | kind
        put(image, place + 0x1B + 8 * number, struct.pack("<II", word, 0))
    put(image, place + 0x1B + 8 * len(outputs), struct.pack("<II", 0xE, 0))
    put(image, table, bytes([0x40, 5, len(sockets), 4]))
    for number, kind in enumerate(sockets):
        put(image, table + 5 + 4 * number, bytes([kind, 0, 0, 0]))


def _bit(image, place, version, date, texts, memory):
    sign_on, product = texts
    major, chip, minor, micro, patch = (int(part, 16) for part in version.split("."))
    numbers = bytes([micro, minor, chip, major, patch])
    said = {
        0x600: sign_on,
        0x680: f"Version {version}",
        0x700: "Copyright (C) 1996-2012 NVIDIA Corp.",
        0x780: "NVIDIA",
        0x800: product,
    }
    for at, text in said.items():
        put(image, at, text.encode("latin-1") + b"\0")
    pointers = (0x600, 0x680, 0x700, 0x780, 0x780, 0x800, 0x780)
    strings = b"".join(struct.pack("<HB", at, 0x60) for at in pointers)
    put(image, 0x900, strings)
    put(image, 0x940, numbers + bytes(10) + date.encode())
    put(image, 0x980, numbers + bytes(20))
    put(image, 0x9C0, struct.pack("<BHH", len(memory), 0x9E0, 0xA00) + bytes(16))
    entries = b"".join(bytes([kind | at << 4, 0]) for at, kind in enumerate(memory))
    put(image, 0xA00, bytes([0x10, 7, 2, len(memory), 0, 0, 0]) + entries)
    tokens = (
        (b"B", 2, 25, 0x980),
        (b"S", 2, len(strings), 0x900),
        (b"i", 2, 23, 0x940),
        (b"M", 2, 21, 0x9C0),
    )
    header = bytearray(b"\xff\xb8BIT\0" + struct.pack("<HBBBB", 0x0100, 12, 6, 4, 0))
    header[11] = -sum(header) & 0xFF
    put(image, place, header)
    for number, (name, revision, size, data) in enumerate(tokens):
        put(
            image,
            place + 12 + 6 * number,
            name + struct.pack("<BHH", revision, size, data),
        )


def dressed_up():
    """Return a GK107's firmware that calls itself a GeForce GTX 1070 with 8 GiB."""
    return nvidia(
        device=0x1B81,
        sign_on="GeForce GTX 1070 8GB",
        product="GeForce GTX 1070",
        efi_device=0x0FC6,
    )


def pascal(**changes):
    """Return a firmware as of a GeForce GTX 1070."""
    given = {
        "device": 0x1B81,
        "version": "86.04.50.00.41",
        "date": "05/27/16",
        "subsystem": (0x1458, 0x3701),
        "sign_on": "GP104 Board - 24130012",
        "product": "GP104 Board",
        "outputs": (2, 2, 6, 6, 6),
        "sockets": (0x31, 0x61, 0x46, 0x46, 0x46),
        "memory": (3,),
        "straps": (0xFFFFFFFF,) * 4,
    }
    return nvidia(**(given | changes))


def amd(
    device=0x67DF,
    date="09/20/16 10:11",
    *,
    texts=("113-MADE-UP01", "POLARIS10", "PCI_EXPRESS", "GDDR5"),
    name="POLARIS10 A1 GDDR5 256Mx32 8GB 1257e/2000m",
    message="Radeon RX 480 8GB",
    subsystem=(0x1682, 0x9480),
    sockets=(0x0C, 0x13, 0x13, 0x04),
    modules=(("K4G80325FB", 8192), ("H5GC8H24AJ", 8192)),
    chip_size=256 * KIB,
):
    """Return the whole content of a chip: an AMD image with its tables."""
    image = x86(0x1002, device)
    put(image, 0x30, b" 761295520")
    put(image, 0x2F, bytes([len(texts)]))
    put(image, 0x48, struct.pack("<H", 0x300))
    put(image, 0x50, date.encode())
    listed = b"".join(text.encode() + b"\0" for text in texts)
    put(image, 0x6E, struct.pack("<H", 0x480))
    put(image, 0x480, listed + b"\r\n" + name.encode() + b"\0")
    put(image, 0x500, b"MADEUP.BIN\0")
    put(image, 0x540, b"\r\n" + message.encode() + b"\r\n\0")
    put(image, 0x1C0, b"ATOMBIOSBK-AMD VER015.050.002.001.000001\0")
    put(image, 0x300, struct.pack("<HBB4s", 0x24, 1, 1, b"ATOM"))
    put(image, 0x30C, struct.pack("<HHH", 0x500, 0, 0x540))
    put(image, 0x318, struct.pack("<HHHHH", *subsystem, 0, 0, 0x600))
    put(image, 0x600, struct.pack("<HBB", 0x60, 1, 1))
    put(image, 0x604 + 2 * 22, struct.pack("<H", 0x700))
    put(image, 0x604 + 2 * 28, struct.pack("<H", 0x800))
    put(image, 0x700, struct.pack("<HBBHH", 0x60, 1, 3, 0, 0x20))
    put(image, 0x720, bytes([len(sockets), 0, 0, 0]))
    for number, kind in enumerate(sockets):
        put(
            image,
            0x724 + 8 * number,
            struct.pack("<HHHH", 0x3100 | kind, 0, 0, 0),
        )
    put(image, 0x800, struct.pack("<HBB", 20 + 64 * len(modules), 2, 2))
    put(image, 0x810, bytes([len(modules), 0, 8, 0]))
    for number, (part, size) in enumerate(modules):
        place = 0x814 + 64 * number
        put(image, place + 4, struct.pack("<H", 64))
        put(image, place + 10, bytes([number, 0x50, 8, 5, 0x63]))
        put(image, place + 20, struct.pack("<H", size))
        put(image, place + 44, part.encode() + b"\0")
    whole = seal(image, len(image) - 1)
    return whole + b"\xff" * (chip_size - len(whole))
