"""What a pack is made from, as it comes from strangers: listings, photos, pages."""

import io
from functools import cache
from random import Random

import evidence_parts as parts
from fuzz import mutators, seeds
from PIL import Image

from reports.codec import decode
from reports.evidence import case as cases
from reports.evidence import listing as listings
from reports.evidence.case import LISTING_SIGNS
from reports.evidence.photos import copied
from reports.evidence.sheet import open_page, render_page

_PAGE = (
    b"<!doctype html><html><head><title>x</title><script>var a='<p>';</script></head>"
    b"<body><h1>GTX 1070 &amp; more</h1><!-- y --><p>8&nbsp;GB<br>new</body></html>"
)


def listing(data: bytes) -> None:
    """Read a listing's file; what is kept is harmless and short."""
    found = listings.of_file(data, "listing")
    assert len(found.text) <= LISTING_SIGNS
    assert listings.kept(found.text) == found.text


def photo(data: bytes) -> None:
    """Copy a photo; what comes of it is a picture and nothing else."""
    made = copied(data, "photo", 1)
    with Image.open(io.BytesIO(made.data), formats=["JPEG"]) as image:
        assert image.mode == "RGB"
        assert not image.getexif()


def case(data: bytes) -> None:
    """Read a case: it has one spelling."""
    assert cases.encode(cases.decode(data)) == data


def page(data: bytes) -> None:
    """Open a pack's page; what is taken makes a page that gives the same back."""
    opened = open_page(data, "page")
    made = render_page(opened.case, opened.record, opened.data, opened.smalls)
    again = open_page(made.encode(), "page")
    assert (again.case, again.data) == (opened.case, opened.data)


def listing_files() -> list[bytes]:
    return [_PAGE, "GTX 1070 für 95 €\r\n8GB".encode("utf-16"), b"a\xff b"]


@cache
def photos() -> list[bytes]:
    return [parts.jpeg(6), parts.png(), parts.heic(3), parts.saved("WEBP")]


@cache
def _pack():
    small = decode(seeds.slim_records()[0])
    return parts.pack(small, photos=[parts.photo(parts.jpeg())])


def pages() -> list[bytes]:
    return [_pack().page]


def case_files() -> list[bytes]:
    return [parts.inside(_pack())["evidence.json"]]


def mutate_listing(data: bytes, rnd: Random) -> bytes:
    return rnd.choice((mutators.blind, mutators.lines_of, mutators.page))(data, rnd)
