"""Where a practice driver places blocks: the address space of the claimed memory.

Addresses only, lowest fit first. What lies behind an address is `wiring.py`'s.
"""

from bisect import insort

PAGE_BYTES = 4096


class Ground:
    """The addresses from `start` to `stop`, in bytes, and what is held of them."""

    def __init__(self, start: int, stop: int) -> None:
        self._start = start
        self._stop = stop
        self._held: list[tuple[int, int]] = []

    @property
    def held_bytes(self) -> int:
        return sum(stop - start for start, stop in self._held)

    def take(self, size_bytes: int) -> int | None:
        """Return the lowest address with so much room above it, None without."""
        whole = -(-size_bytes // PAGE_BYTES) * PAGE_BYTES
        at = self._start
        for start, stop in self._held:
            if start - at >= whole:
                break
            at = stop
        if at + whole > self._stop:
            return None
        insort(self._held, (at, at + whole))
        return at

    def release(self, address: int) -> None:
        """Give back what was taken at an address. Raises KeyError."""
        for place in self._held:
            if place[0] == address:
                self._held.remove(place)
                return
        raise KeyError(address)
