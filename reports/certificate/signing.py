"""What is signed, byte for byte: the pre-authentication encoding of DSSE, protocol 1.0.

DSSE is the "Dead Simple Signing Envelope" (secure-systems-lab). Type and payload go
under the signature with their lengths before them, so no payload of one type passes
for one of another. Payloads are stored bytes, never an encoding made anew.
"""

from enum import StrEnum

from reports.certificate.keys import PublicKey, SigningKey

SIGNATURE_BYTES = 64


class Signed(StrEnum):
    """The types of payload that a certificate's key signs."""

    RECORD = "application/vnd.cardassay.record+json"
    STATEMENT = "application/vnd.cardassay.certificate+json"
    PAGE = "application/vnd.cardassay.certificate+html"


def encoded(kind: str, payload: bytes) -> bytes:
    """Return PAE(kind, payload) of DSSE: `DSSEv1 LEN TYPE LEN PAYLOAD`."""
    name = kind.encode("utf-8")
    return b"DSSEv1 %d %b %d %b" % (len(name), name, len(payload), payload)


def sign(key: SigningKey, kind: Signed, payload: bytes) -> bytes:
    """Return the signature of a payload, 64 bytes."""
    return key.sign(encoded(kind, payload))


def is_signed(key: PublicKey, kind: Signed, payload: bytes, signature: bytes) -> bool:
    """Whether the key's owner signed exactly this, as exactly this type."""
    from cryptography.exceptions import InvalidSignature  # noqa: PLC0415 - start-up
    from cryptography.hazmat.primitives.asymmetric.ed25519 import (  # noqa: PLC0415 - start-up
        Ed25519PublicKey,
    )

    try:
        public = Ed25519PublicKey.from_public_bytes(key.raw)
        public.verify(signature, encoded(kind, payload))
    except (InvalidSignature, ValueError):
        return False
    return True
