"""Ed25519 by plain arithmetic, after RFC 8032, sections 5.1 and 6: slow, independent.

What the tests hold the library and our list of small points against.
"""

import hashlib

P = 2**255 - 19
D = -121665 * pow(121666, P - 2, P) % P
L = 2**252 + 27742317777372353535851937790883648493
ROOT = pow(2, (P - 1) // 4, P)
IDENTITY = (0, 1, 1, 0)


def add(one, other):
    a = (one[1] - one[0]) * (other[1] - other[0]) % P
    b = (one[1] + one[0]) * (other[1] + other[0]) % P
    c = 2 * one[3] * other[3] * D % P
    d = 2 * one[2] * other[2] % P
    e, f, g, h = b - a, d - c, d + c, b + a
    return (e * f % P, g * h % P, f * g % P, e * h % P)


def multiply(scalar, point):
    total = IDENTITY
    while scalar:
        if scalar & 1:
            total = add(total, point)
        point = add(point, point)
        scalar >>= 1
    return total


def same(one, other):
    return not (
        (one[0] * other[2] - other[0] * one[2]) % P
        or (one[1] * other[2] - other[1] * one[2]) % P
    )


def recover(y, sign):
    """Return x; None where there is no such point."""
    square = (y * y - 1) * pow(D * y * y + 1, P - 2, P) % P
    x = pow(square, (P + 3) // 8, P)
    if (x * x - square) % P:
        x = x * ROOT % P
    if (x * x - square) % P:
        return None
    return P - x if x & 1 != sign else x


def decompress(data, *, strict=True):
    y = int.from_bytes(data, "little")
    sign, y = y >> 255, y & (2**255 - 1)
    if strict and y >= P:
        return None
    x = recover(y % P, sign)
    return None if x is None else (x % P, y % P, 1, x * y % P)


_Y = 4 * pow(5, P - 2, P) % P
_X = recover(_Y, 0)
BASE = (_X, _Y, 1, _X * _Y % P)


def is_signed(public, message, signature):
    key, first = decompress(public), decompress(signature[:32])
    scalar = int.from_bytes(signature[32:], "little")
    if key is None or first is None or scalar >= L:
        return False
    digest = hashlib.sha512(signature[:32] + public + message).digest()
    hashed = int.from_bytes(digest, "little") % L
    return same(multiply(scalar, BASE), add(first, multiply(hashed, key)))
