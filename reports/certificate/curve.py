"""The few points of Ed25519's curve that are no keys.

A public key of small order takes one signature for many messages: its owner could show
the same signature under another record. RFC 8032 lets a verifier take them; we do not.
"""

_PRIME = 2**255 - 19
_SIGN = 1 << 255
_EIGHTH = int.from_bytes(
    bytes.fromhex("26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05"),
    "little",
)
"""y of a point of order 8, from the literature on small-order points (Chalkias,
Garillot and Nikolaenko, "Taming the many EdDSAs", 2020); the tests check it by the
arithmetic of RFC 8032, section 6."""
SMALL = frozenset(
    (y | sign).to_bytes(32, "little")
    for y in (
        0,
        1,
        _PRIME - 1,
        _PRIME,  # 0 and 1 again, written longer than they need be
        _PRIME + 1,
        _EIGHTH,
        _PRIME - _EIGHTH,
    )
    for sign in (0, _SIGN)
)
"""All 32-byte encodings of the eight points whose order divides 8."""
