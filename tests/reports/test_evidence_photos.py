"""Photos in a pack: the picture alone, upright; nothing else of the file.

Tags by Exif 2.32 (CIPA DC-008); the JPEG markers by ITU-T T.81, table B.1; metadata is
written and read back with Pillow and pillow-heif, which know both.
"""

import io
import struct
import sys
import zlib
from hashlib import sha256

import evidence_parts as parts
import msgspec
import pytest
from PIL import Image, ImageCms

from reports.evidence import photos
from reports.evidence.errors import EvidenceError
from reports.inspection import Photo

FORMS = {"JPEG": parts.jpeg, "PNG": parts.png, "HEIC": parts.heic}


def segments(data):
    """The markers of a JPEG up to its scan (ITU-T T.81, B.1.1)."""
    at, found = 2, []
    while data[at + 1] != 0xDA:  # SOS
        found.append(data[at + 1])
        at += 2 + struct.unpack(">H", data[at + 2 : at + 4])[0]
    return found


@pytest.mark.parametrize("form", FORMS)
def test_nothing_that_a_camera_noted_is_left(form):
    data = FORMS[form]()
    assert parts.MAKE.encode() in data  # there is something to lose
    made = photos.copied(data, "a", 1)
    assert made.picture.location is True
    for copy in (made.data, made.small):
        for word in (parts.MAKE, parts.SERIAL, "Exif", "http", "ICC_PROFILE", "home"):
            assert word.encode() not in copy
        # APP0 is JFIF's; APP1 (EXIF, XMP), APP2 (profiles), APP13 (IPTC), COM: none
        assert not {0xE1, 0xE2, 0xED, 0xFE} & set(segments(copy))
        with Image.open(io.BytesIO(copy)) as image:
            assert not image.getexif()
            assert not image.getexif().get_ifd(parts.EXIF_PLACE)
            assert set(image.info) <= {
                "jfif", "jfif_version", "jfif_unit", "jfif_density"
            }  # fmt: skip


def test_a_photo_without_a_place_is_said_to_have_none():
    assert parts.photo(parts.jpeg(place=False)).picture.location is False
    assert parts.photo(parts.saved("WEBP")).picture.location is False


def test_a_place_in_words_is_one_too():
    """IPTC IIM 4.2, record 2, dataset 90 (city), in a JPEG's APP13."""
    city = b"\x1c\x02\x5a" + struct.pack(">H", 8) + b"Hinterau"
    block = b"8BIM\x04\x04\0\0" + struct.pack(">I", len(city)) + city
    block = b"Photoshop 3.0\0" + block + b"\0" * (len(block) % 2)
    extra = b"\xff\xed" + struct.pack(">H", len(block) + 2) + block
    data = parts.saved("JPEG", extra=extra)
    assert b"Hinterau" in data
    made = parts.photo(data)
    assert made.picture.location is True
    assert b"Hinterau" not in made.data


def test_of_several_pictures_in_one_file_the_first_is_taken():
    data = parts.saved(
        "MPO",
        save_all=True,
        append_images=[Image.new("RGB", (8, 8))],
        exif=parts.exif(6),
    )
    made = parts.photo(data)
    assert (made.picture.width, made.picture.height) == (32, 64)
    assert made.picture.location is True


def test_without_the_library_for_heic_the_others_are_still_read(monkeypatch):
    data = parts.heic()
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    assert parts.photo(parts.jpeg()).picture.location is True
    with pytest.raises(EvidenceError, match=r"not a photo in JPEG, PNG or WebP; save"):
        parts.photo(data)


def test_a_place_that_cannot_be_read_is_not_denied():
    broken = parts.saved("JPEG", exif=b"Exif\0\0II*\0\xff\xff\xff\xff")
    made = parts.photo(broken)
    assert made.picture.location is not True
    assert b"Exif" not in made.data


ORIENTED = {
    # Exif 2.32, 4.6.4, Orientation: where the first row and column of the file are
    1: ((64, 32), "left"), 2: ((64, 32), "right"), 3: ((64, 32), "right"),
    4: ((64, 32), "left"), 5: ((32, 64), "top"), 6: ((32, 64), "top"),
    7: ((32, 64), "bottom"), 8: ((32, 64), "bottom"),
}  # fmt: skip


def red_side(image):
    wide, high = image.size
    places = {"left": (4, high // 2), "right": (wide - 5, high // 2),
              "top": (wide // 2, 4), "bottom": (wide // 2, high - 5)}  # fmt: skip
    reds = {side: image.getpixel(at)[0] for side, at in places.items()}
    sides = ("left", "right") if wide > high else ("top", "bottom")
    return max(sides, key=reds.get)


@pytest.mark.parametrize("orientation", ORIENTED)
def test_a_photo_stands_upright(orientation):
    made = parts.photo(parts.jpeg(orientation))
    with Image.open(io.BytesIO(made.data)) as image:
        assert (image.size, red_side(image)) == ORIENTED[orientation]
    assert (made.picture.width, made.picture.height) == ORIENTED[orientation][0]


def test_a_phones_heic_is_turned_once():
    """HEIF's own rotation (ISO/IEC 23008-12, `irot`) stands beside EXIF's tag."""
    made = parts.photo(parts.heic(6))
    with Image.open(io.BytesIO(made.data)) as image:
        assert (image.size, red_side(image)) == ORIENTED[6]


def test_colours_are_brought_to_srgb():
    """A profile (ICC.1, 7.3: its tag table) in which red and blue are exchanged."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    table = bytearray(profile[128 : 132 + 12 * profile[131]])
    swap = {b"rXYZ": b"bXYZ", b"bXYZ": b"rXYZ"}
    for at in range(4, len(table), 12):
        name = bytes(table[at : at + 4])
        table[at : at + 4] = swap.get(name, name)
    swapped = profile[:128] + bytes(table) + profile[128 + len(table) :]
    image = Image.new("RGB", (16, 16), (200, 20, 20))
    plain = parts.photo(parts.saved("PNG", image, icc_profile=profile))
    turned = parts.photo(parts.saved("PNG", image, icc_profile=swapped))
    for made, wanted in ((plain, (200, 20, 20)), (turned, (20, 20, 200))):
        with Image.open(io.BytesIO(made.data)) as copy:
            found = copy.getpixel((8, 8))
        assert all(abs(a - b) <= 8 for a, b in zip(found, wanted, strict=True))


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA", "CMYK", "I;16"])
def test_every_kind_of_pixel_is_taken(mode):
    if mode == "I;16":
        image = Image.new("I;16", (16, 16), 51400)
        form = "PNG"
    else:
        image = Image.new("RGB", (16, 16), (200, 200, 200)).convert(mode)
        form = "JPEG" if mode == "CMYK" else "PNG"
    with Image.open(io.BytesIO(parts.photo(parts.saved(form, image)).data)) as copy:
        assert copy.mode == "RGB"
        assert all(abs(one - 200) < 60 for one in copy.getpixel((8, 8)))


def test_what_lets_through_is_laid_on_white():
    clear = Image.new("RGBA", (16, 16), (0, 0, 0, 0))
    with Image.open(io.BytesIO(parts.photo(parts.saved("PNG", clear)).data)) as copy:
        assert min(copy.getpixel((8, 8))) > 250


def test_large_photos_are_scaled_down(monkeypatch):
    monkeypatch.setattr(photos, "PIXELS", 1000)
    made = parts.photo(parts.saved("PNG", parts.picture((400, 100))))
    assert 900 <= made.picture.width * made.picture.height <= 1000
    assert made.picture.width > 3 * made.picture.height


def test_the_smaller_copy_fits_a_page():
    made = parts.photo(parts.saved("PNG", parts.picture((2400, 1200))))
    with Image.open(io.BytesIO(made.small)) as small:
        assert small.size == (1000, 500)
    assert (made.picture.width, made.picture.height) == (2400, 1200)


def test_hashes_are_of_what_is_there():
    data = parts.jpeg()
    made = parts.photo(data, "die.jpg", 3)
    one = made.picture
    assert one.file == "photo-3.jpg"
    assert one.sha256 == sha256(made.data).hexdigest()
    assert one.small_sha256 == sha256(made.small).hexdigest()
    assert one.original.sha256 == sha256(data).hexdigest()
    assert (one.size_bytes, one.original.size_bytes) == (len(made.data), len(data))


def test_a_files_name_is_not_told():
    """It may hold a person's name, a day or a place."""
    made = parts.photo(name="Erika at home.jpg")
    assert b"Erika" not in msgspec.json.encode(made.picture)


@pytest.mark.parametrize("size", [(70_000, 2), (1, 20_000)])
def test_a_long_strip_is_scaled_to_what_a_jpeg_can_hold(size):
    """ITU-T T.81 has 16 bits for a side; libjpeg takes 65,500 (jmorecfg.h)."""
    made = parts.photo(parts.saved("PNG", Image.new("L", size))).picture
    assert max(made.width, made.height) == 16_384


def test_a_photo_of_the_inspection_is_known_again():
    data = parts.jpeg()
    seen = Photo(name="x", size_bytes=1, sha256=sha256(data).hexdigest())
    assert parts.photo(data, inspected=frozenset({seen.sha256})).picture.inspected
    assert not parts.photo(data, inspected=frozenset({"0" * 64})).picture.inspected


def bomb():
    """A PNG that calls itself 30,000 by 30,000 (ISO/IEC 15948, 11.2.2)."""
    head = b"IHDR" + struct.pack(">IIBBBBB", 30_000, 30_000, 8, 2, 0, 0, 0)
    chunks = [
        struct.pack(">I", len(one) - 4) + one + struct.pack(">I", zlib.crc32(one))
        for one in (head, b"IDATabcd")
    ]
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunks)


BAD = {
    "empty": (b"", "not a photo"),
    "text": (b"no photo at all", "not a photo"),
    "cut": (parts.jpeg()[:400], "damaged"),
    "gif": (b"GIF89a\1\0\1\0\0\0\0;", "not a photo"),
    "bomb": (bomb(), "more than 89 million pixels; save it smaller"),
    "svg": (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a photo"),
}


@pytest.mark.parametrize("name", BAD)
def test_what_is_no_photo_is_said_to_be_none(name):
    data, said = BAD[name]
    with pytest.raises(EvidenceError, match=said) as error:
        photos.copied(data, f"{name}\x1b[2J.jpg", 1)
    text = str(error.value)
    assert text.startswith(f"{name}\N{REPLACEMENT CHARACTER}[2J.jpg: ")
    assert "--photo" in text
    assert "\n" not in text


def test_too_large_a_file_is_not_decoded(monkeypatch):
    monkeypatch.setattr(photos, "FILE_LIMIT", 100)
    with pytest.raises(EvidenceError, match="larger than"):
        parts.photo(parts.jpeg())
