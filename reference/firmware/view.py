"""Bytes by offset, for parsers that may never fail: what lies outside is None.

Little-endian throughout. Knows no format.
"""

from reports.text import plain


class View:
    """A window on an image; offsets count from `base`."""

    def __init__(self, data: bytes, base: int = 0, end: int | None = None) -> None:
        self.data = data
        self.base = base
        self.end = len(data) if end is None else min(end, len(data))

    def raw(self, offset: int, size: int) -> bytes:
        """Return `size` bytes, fewer where the window ends."""
        if offset < 0 or size <= 0:
            return b""
        start = self.base + offset
        return self.data[start : min(start + size, self.end)]

    def number(self, offset: int, size: int) -> int | None:
        """Return an unsigned number of `size` bytes, None where it lies outside."""
        found = self.raw(offset, size)
        return int.from_bytes(found, "little") if len(found) == size else None

    def u8(self, offset: int) -> int | None:
        """Return one byte."""
        return self.number(offset, 1)

    def u16(self, offset: int) -> int | None:
        """Return two bytes."""
        return self.number(offset, 2)

    def u32(self, offset: int) -> int | None:
        """Return four bytes."""
        return self.number(offset, 4)

    def text(self, offset: int | None, most: int) -> str | None:
        """Return a text up to its NUL, made harmless; None for none or an empty one."""
        if not offset:
            return None
        found = self.raw(offset, most).split(b"\0", 1)[0]
        if set(found) <= {0x20, 0xFF}:
            return None
        return plain(found.decode("latin-1"), min(most, 256)).strip() or None
