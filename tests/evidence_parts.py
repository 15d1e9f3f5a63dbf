"""What packs are made of: photos as phones and cameras write them, listings, records.

EXIF is by Exif 2.32 (CIPA DC-008, JEITA CP-3451): 0x0112 Orientation, 0x010F Make,
0xA431 BodySerialNumber, 0x8825 the pointer to the place, its 1 to 4 the coordinates.
"""

import functools
import io
import zipfile

from command_line import shipped
from msgspec.structs import replace
from PIL import Image, PngImagePlugin
from repaired_runs import LISTING, practised

from reference.judge import judge
from reports import codec
from reports.evidence import listing as listings
from reports.evidence.case import Order
from reports.evidence.pack import Told, make
from reports.evidence.photos import copied

GTX = "GeForce GTX 1070"
MADE = "2026-11-26"
MAKE = "Kamerawerke Muster"
SERIAL = "SN-4711-0815"
WORDS = "GeForce GTX 1070, 8GB, like new"
EXIF_PLACE = 0x8825


def exif(orientation=1, *, place=True):
    """EXIF as a phone writes it: make, serial number, place, orientation."""
    found = Image.Exif()
    found[0x0112] = orientation
    found[0x010F] = MAKE
    found.get_ifd(0x8769)[0xA431] = SERIAL
    if place:
        gps = found.get_ifd(EXIF_PLACE)
        gps[1], gps[2] = "N", (48.0, 8.0, 14.9)
        gps[3], gps[4] = "E", (11.0, 34.0, 31.8)
    return found


def picture(size=(64, 32)):
    """Red on its left half, blue on its right: tells which way is up."""
    image = Image.new("RGB", size, (200, 20, 20))
    image.paste((20, 20, 200), (size[0] // 2, 0, *size))
    return image


def saved(form, image=None, **more):
    """The picture as a file."""
    file = io.BytesIO()
    (image or picture()).save(file, form, **more)
    return file.getvalue()


def jpeg(orientation=1, *, place=True):
    told = exif(orientation, place=place)
    return saved("JPEG", exif=told, comment=b"taken at home by " + MAKE.encode())


def png():
    texts = PngImagePlugin.PngInfo()
    texts.add_text("Author", MAKE)
    texts.add_itxt("Description", SERIAL)
    xmp = f"<x:xmpmeta><exif:GPSLatitude>48</exif:GPSLatitude>{MAKE}</x:xmpmeta>"
    texts.add_itxt("XML:com.adobe.xmp", xmp)
    return saved("PNG", pnginfo=texts)


def heic(orientation=1):
    import pillow_heif  # noqa: PLC0415 - as the program: only where it is needed

    pillow_heif.register_heif_opener()
    return saved("HEIF", exif=exif(orientation).tobytes())


@functools.cache
def after_test(condition, *, listed=True):
    """The judged record of a practice card, and its bytes; tested once."""
    record = practised(condition)
    if listed:
        record = replace(record, claims=(LISTING, *record.claims))
    record = judge(record, shipped())
    return record, codec.encode(record)


def real(record):
    """The same as if a real card had been tested: to see what is said then."""
    return replace(record, practice=False, practice_condition=None)


def told(language="en", text=WORDS, **other):
    fields = {
        "listing": listings.of_text(text),
        "language": language,
        "order": Order(),
        "made": MADE,
    }
    return Told(**(fields | other))


def photo(data=None, name="die.jpg", number=1, **other):
    return copied(jpeg() if data is None else data, name, number, **other)


def pack(record, language="en", *, held="record", judged=None, others=(), **other):
    """A pack of a record, or of its bytes."""
    data = record if isinstance(record, bytes) else codec.encode(record)
    given = told(language, **other)
    return make(data, given, held=held, judged=judged, other_models=others)


def inside(made):
    """The zip's files by their names, in order."""
    data = made.zipped if hasattr(made, "zipped") else made
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert archive.testzip() is None
        return {one.filename: archive.read(one) for one in archive.infolist()}
