"""The QR code of a certificate: key and record, to be compared with the page by phone.

What it holds is not secret and not signed by itself; the page that it stands on is.
"""

from typing import Final

QUIET: Final = 4
"""Modules of white around the code (ISO/IEC 18004)."""
_MARK: Final = "CARDASSAY CERTIFICATE"


def words_in(fingerprint: str, digest: str) -> str:
    """Return what the code says: fingerprint of the key, digest of the record.

    Only signs of QR's alphanumeric mode, which takes the least room.
    """
    return f"{_MARK} KEY {fingerprint} RECORD {digest}".upper()


def picture(text: str) -> str:
    """Return the code as an SVG element: dark on white, in dark mode too."""
    rows = modules(text)
    size = len(rows) + 2 * QUIET
    runs = []
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            start = x
            while x < len(row) and row[x]:
                x += 1
            if x > start:
                runs.append(f"M{start + QUIET} {y + QUIET}h{x - start}v1h{start - x}z")
            x += 1
    return (
        f'<svg class="code" viewBox="0 0 {size} {size}" role="img" '
        'shape-rendering="crispEdges" aria-labelledby="code-title">'
        '<title id="code-title">QR code with the fingerprint of the key and the digest '
        f'of the record</title><path fill="#fff" d="M0 0h{size}v{size}h-{size}z"/>'
        f'<path fill="#000" d="{"".join(runs)}"/></svg>'
    )


def modules(text: str) -> tuple[tuple[bool, ...], ...]:
    """Return the code's modules, row by row, without the white around; True is dark.

    Error correction is M: 15 % of it may be lost to a crease or a stain.
    """
    import segno  # noqa: PLC0415 - start-up

    code = segno.make_qr(text, error="m", boost_error=False)
    return tuple(tuple(bool(one) for one in row) for row in code.matrix)
