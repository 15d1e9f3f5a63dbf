"""The certificate as one A4 page, and what such a page carries. No script, no request.

All of the page is under a signature of its own: what a person reads cannot be changed
unseen either. The signature stands in one slot, which is empty while it is made.
"""

import re
from typing import Final

from reports import words
from reports.certificate import qr, wording
from reports.certificate.encoding import from_base64, grouped, to_base64
from reports.certificate.errors import CertificateError
from reports.certificate.keys import PublicKey
from reports.certificate.signing import SIGNATURE_BYTES
from reports.certificate.statement import FILE_LIMIT, Statement
from reports.record import Record
from reports.summary import Summary, summarise, when
from reports.templating import style_of, template
from reports.text import named, plain

_DATA: Final = "data:application/json;base64,"
_EMPTY: Final = b"\0" * SIGNATURE_BYTES
_SLOT: Final = re.compile(
    rb'<meta name="cardassay-page-signature" content="([A-Za-z0-9+/=]{88})">'
)
_CARRIED: Final = re.compile(
    rb'<a id="certificate" download="certificate\.json" '
    rb'href="data:application/json;base64,([A-Za-z0-9+/=]{1,%d})">' % (2 * FILE_LIMIT)
)
_SENTENCE: Final = 300
_FACT: Final = 110
"""Longest texts on the page, in characters: it has to stay one page."""
_FACTS: Final = frozenset(
    {"Card", "Sold as", "Tested", "Depth", "Table of genuine cards"}
)


def render(
    record: Record,
    stored: bytes,
    statement: Statement,
    public: PublicKey,
    certificate: bytes,
) -> bytes:
    """Return the page, its slot still empty. `stored` are the record's bytes."""
    summary = summarise(record)
    code = qr.words_in(public.fingerprint, statement.record_sha256)
    page = template("certificate.html.j2").render(
        language="en",
        style=style_of("base.css", "certificate.css"),
        slot=to_base64(_EMPTY),
        mark=words.OUTCOME["as claimed"][0],
        sentence=plain(summary.sentence, _SENTENCE),
        facts=_facts(summary, statement),
        statement=statement,
        fingerprint=public.grouped,
        digest=grouped(statement.record_sha256),
        code=qr.picture(code),
        wording=wording,
        record_link=_DATA + to_base64(stored),
        certificate_link=_DATA + to_base64(certificate),
    )
    return page.encode("utf-8")


def fill(page: bytes, signature: bytes) -> bytes:
    """Return the page with its signature in the slot. Raises CertificateError."""
    start, end = _slot(page, "the page")
    return page[:start] + to_base64(signature).encode("ascii") + page[end:]


def signature_in(page: bytes, name: str) -> tuple[bytes, bytes]:
    """Return the signature in the slot, and the page as it was signed.

    Raises CertificateError.
    """
    start, end = _slot(page, name)
    try:
        signature = from_base64(page[start:end])
    except ValueError:
        raise CertificateError(
            f"{named(name)}: the page's signature is damaged"
        ) from None
    return signature, page[:start] + to_base64(_EMPTY).encode("ascii") + page[end:]


def carried(page: bytes, name: str) -> bytes:
    """Return the certificate that a page carries. Raises CertificateError."""
    found = _CARRIED.findall(page)
    if len(found) != 1:
        raise CertificateError(
            f"{named(name)}: the page carries "
            + ("more than one certificate" if found else "no certificate")
        )
    try:
        return from_base64(found[0])
    except ValueError:
        raise CertificateError(
            f"{named(name)}: the certificate in the page is damaged"
        ) from None


def is_page(data: bytes) -> bool:
    """Whether this is meant as a page rather than as a certificate's file."""
    return data[:64].lstrip().startswith(b"<")


def _slot(page: bytes, name: str) -> tuple[int, int]:
    found = list(_SLOT.finditer(page))
    if len(found) != 1:
        raise CertificateError(f"{named(name)}: not the page of a certificate")
    return found[0].span(1)


def _facts(summary: Summary, statement: Statement) -> list[tuple[str, str]]:
    memory = summary.memory
    facts = [
        ("Operator", statement.operator),
        *((term, text) for term, text in summary.facts if term in _FACTS),
        ("Memory proven", memory.proven if memory else ""),
        (words.SOAK, summary.soak.line if summary.soak else ""),
        ("Certified", when(statement.signed)),
    ]
    return [(term, plain(text, _FACT)) for term, text in facts if text]
