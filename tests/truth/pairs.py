"""Which pairs of true and claimed row a forgery is made of, and which are excluded.

A pair counts where no variant of the claimed name has the true card's chip, units and
memory size: then nothing sold under that name is this card.
"""

from collections import defaultdict
from collections.abc import Iterable
from random import Random

from reference.rows import Variant
from reference.table import Table

KINDS = ("maker", "architecture", "chip", "any")
WEIGHTS = (0.55, 0.20, 0.15, 0.10)
"""Most forgeries stay with one maker; the closest are the hardest."""


def _figures(row: Variant) -> tuple[str, int, int]:
    return row.chip, row.units, row.memory_bytes


class Pairs:
    """Draws pairs of rows: every true row in turn, the claimed one by chance."""

    def __init__(self, table: Table) -> None:
        self.rows = table.variants
        self._makers: dict[str, list[Variant]] = defaultdict(list)
        self._kinds: dict[str, list[Variant]] = defaultdict(list)
        self._chips: dict[str, list[Variant]] = defaultdict(list)
        self._made: dict[str, set[tuple[str, int, int]]] = defaultdict(set)
        for row in self.rows:
            self._makers[row.vendor].append(row)
            self._kinds[row.architecture].append(row)
            self._chips[row.chip].append(row)
        for model in {row.model for row in self.rows}:
            for row in table.resolve(model):
                self._made[model].add(_figures(row))

    def counts(self, true: Variant, claimed: Variant) -> bool:
        """Whether the pair differs by more than the variants of one name do."""
        return _figures(true) not in self._made[claimed.model]

    @staticmethod
    def beyond(true: Variant, told: Iterable[Variant]) -> bool:
        """Whether the name as printed covers no such card.

        A driver's name may be that of a family, `RX 470/480`: then it claims no more.
        """
        return _figures(true) not in {_figures(row) for row in told}

    def draw(self, rng: Random, number: int) -> tuple[Variant, Variant]:
        """Return a pair that counts."""
        true = self.rows[number % len(self.rows)]
        while True:
            kind = rng.choices(KINDS, WEIGHTS)[0]
            among = {
                "maker": self._makers[true.vendor],
                "architecture": self._kinds[true.architecture],
                "chip": self._chips[true.chip],
            }.get(kind, self.rows)
            claimed = rng.choice(among)
            if self.counts(true, claimed):
                return true, claimed
