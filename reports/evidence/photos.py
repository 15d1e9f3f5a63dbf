"""Photos made fit to be handed out: the picture alone, nothing that a camera noted.

A copy is painted anew from the pixels: upright, in sRGB, as JPEG. Place, serial number,
thumbnail, maker's notes and comments have no way into it. What decodes a stranger's
file may raise anything: all of it becomes one error with the file's name.
"""

import io
import warnings
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from typing import TYPE_CHECKING, Final

from reports.evidence.case import Original, Picture, Shows
from reports.evidence.errors import EvidenceError
from reports.text import named, plain

if TYPE_CHECKING:
    from PIL.Image import Image

FILE_LIMIT: Final = 64 * 2**20
"""Largest photo read, in bytes."""
PIXELS: Final = 8_000_000
"""Most pixels of a copy: enough to read a chip's marking, and small enough to send."""
_LONGEST: Final = 16_384
"""Most pixels of a copy's side; a JPEG ends at 65,500."""
SMALL: Final = (1000, 1400)
"""The smaller copy's box, width and height in pixels."""
_QUALITY: Final = 88
_SMALL_QUALITY: Final = 80
_GPS: Final = 0x8825
"""EXIF 2.32, section 4.6.3: the tag that points to the place."""
_PLACE: Final = (b"exif:GPS", b"photoshop:City", b"Iptc4xmpCore:Location")
"""What XMP calls a place."""
_IPTC: Final = frozenset({(2, 90), (2, 92), (2, 95), (2, 101)})
"""IPTC IIM 4.2: city, sublocation, province or state, country."""
_NAME: Final = 120
_FORMATS: Final = ("JPEG", "PNG", "WEBP")
_NEXT: Final = "save it as JPEG or PNG, and name that with --photo"
_BITS: Final = 1 / 256
"""From 16 bits a channel to 8."""


@dataclass(frozen=True, slots=True)
class Copied:
    """One photo: what is said of it, the copy, and the smaller copy."""

    picture: Picture
    data: bytes
    small: bytes


def copied(
    data: bytes,
    name: str,
    number: int,
    shows: Shows | None = None,
    inspected: frozenset[str] = frozenset(),
) -> Copied:
    """Return a photo's copies. `name` is the file's, without its folder.

    `inspected` are the SHA-256 of photos that the record lists. Raises EvidenceError.
    """
    if len(data) > FILE_LIMIT:
        raise _error(name, f"larger than {FILE_LIMIT // 2**20} MiB")
    place, image = _painted(data, name)
    large = _jpeg(image, _QUALITY)
    width, height = image.size
    image.thumbnail(SMALL)
    small = _jpeg(image, _SMALL_QUALITY)
    digest = sha256(data).hexdigest()
    picture = Picture(
        file=f"photo-{number}.jpg",
        shows=shows,
        width=width,
        height=height,
        size_bytes=len(large),
        sha256=sha256(large).hexdigest(),
        small_sha256=sha256(small).hexdigest(),
        original=Original(
            size_bytes=len(data),
            sha256=digest,
        ),
        location=place,
        inspected=digest in inspected,
    )
    return Copied(picture, large, small)


def _painted(data: bytes, name: str) -> tuple[bool | None, "Image"]:
    """Return whether a place was noted, and the picture alone: RGB, no profile."""
    from PIL import Image, ImageOps, UnidentifiedImageError  # noqa: PLC0415 - start-up

    formats = _formats()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=formats) as opened:
                place = _has_place(opened)
                opened.load()
                upright = ImageOps.exif_transpose(opened)
            seen = _in_srgb(upright)
            share = (PIXELS / (seen.width * seen.height)) ** 0.5
            share = min(share, _LONGEST / max(seen.size))
            if share < 1:
                wide, high = int(seen.width * share), int(seen.height * share)
                seen = seen.resize((max(wide, 1), max(high, 1)))
            clean = Image.new("RGB", seen.size)
            clean.paste(seen)
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        many = (Image.MAX_IMAGE_PIXELS or 0) // 10**6
        raise _error(name, f"more than {many} million pixels", "smaller") from None
    except UnidentifiedImageError:
        which = "JPEG, PNG, WebP or HEIC" if "HEIF" in formats else "JPEG, PNG or WebP"
        raise _error(name, f"not a photo in {which}") from None
    except Exception as error:  # noqa: BLE001 - a decoder raises whatever it likes
        why = plain(str(error), _NAME) or type(error).__name__
        raise _error(name, f"damaged ({why})") from None
    return place, clean


def _formats() -> tuple[str, ...]:
    """Return what can be read here: HEIC where its library was made for this PC."""
    try:
        import pillow_heif  # noqa: PLC0415 - start-up: only packs need it
    except ImportError:
        return _FORMATS
    pillow_heif.register_heif_opener()
    return (*_FORMATS, "HEIF")


def _error(name: str, what: str, how: str = "") -> EvidenceError:
    step = _NEXT.replace("save it", f"save it {how}") if how else _NEXT
    return EvidenceError(f"{named(name)}: {what}; {step}")


def _has_place(image: "Image") -> bool | None:
    """Whether EXIF, XMP or IPTC tell where it was taken; None: they cannot be read."""
    from PIL import IptcImagePlugin  # noqa: PLC0415 - start-up

    told = image.info.get("xmp") or image.info.get("XML:com.adobe.xmp") or b""
    if isinstance(told, str):
        told = told.encode("utf-8", "replace")
    if isinstance(told, bytes) and any(word in told for word in _PLACE):
        return True
    try:
        if image.getexif().get_ifd(_GPS):
            return True
        noted = IptcImagePlugin.getiptcinfo(image)  # type: ignore[arg-type]
        return bool(_IPTC & set(noted or ()))
    except Exception:  # noqa: BLE001 - as above; the copy has none of it anyway
        return None


def _in_srgb(image: "Image") -> "Image":
    """Return the picture in sRGB, 8 bits a channel, on white where it lets through."""
    from PIL import Image, ImageCms  # noqa: PLC0415 - start-up

    profile = image.info.get("icc_profile")
    if image.mode.startswith("I"):
        image = image.point(lambda value: value * _BITS).convert("L")
    if image.mode in ("RGBA", "LA", "PA", "RGBa", "La") or (
        image.mode == "P" and "transparency" in image.info
    ):
        above = image.convert("RGBA")
        image = Image.new("RGB", above.size, "white")
        image.paste(above, mask=above.getchannel("A"))
    elif image.mode == "P":
        image = image.convert("RGB")
    if profile:
        with suppress(Exception):  # a broken profile: the numbers as they are
            found = ImageCms.profileToProfile(
                image,
                ImageCms.ImageCmsProfile(io.BytesIO(profile)),
                ImageCms.createProfile("sRGB"),
                outputMode="RGB",
            )
            image = found or image
    return image.convert("RGB")


def _jpeg(image: "Image", quality: int) -> bytes:
    file = io.BytesIO()
    image.save(file, "JPEG", quality=quality)
    return file.getvalue()
