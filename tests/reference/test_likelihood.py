"""The likelihoods of all rows at once against the same, written out row by row.

Plain and slow on purpose: one row, one measurement at a time, nothing shared.
"""

from dataclasses import replace
from math import log

import pytest
import truth_bench

from reference.case import Case
from reference.curves import on_bell, on_plateau
from reference.evidence import evidence
from reference.likelihood import BROAD, chip_alone, rows
from reference.profile import clock, groups, profiles

SEED = 11
RUNS = 60


def _likelihood(row, seen):
    total, by = _units(row, seen)
    total += row.prior + _speeds(row, seen, by)
    if seen.size is not None:
        total += _size(row, seen.size, whole=seen.whole)
    if seen.cache is not None:
        total += _flat(row.cache, seen.cache, "cache", -3.5)
    if seen.warp is not None:
        total += row.warps.get(seen.warp, -7.0)
    if seen.resident is not None:
        total += _resident(row, *seen.resident)
    return total


def _speeds(row, seen, by):
    total = 0.0
    slow = -3.5 if seen.hindered else -7.0
    if seen.fp32 is not None or seen.link is not None:
        tried = [_single(row, seen, log(by), slow, part) for part in row.efforts]
        total += max(tried) - log(len(tried))
    if seen.clock is not None:
        total += _soft(clock(row), seen.clock, "clock")
    if seen.traffic is not None:
        total += on_bell(row.traffic, seen.traffic, slow, -10.0)
    return total


def _single(row, seen, by, slow, part):
    total = 0.0
    if seen.fp32 is not None:
        total += on_bell(row.fp32, seen.fp32 - part, slow, -10.0)
    if seen.link is not None:
        total += _flat(row.link, seen.link + by - part, "link", slow)
    for expected, value in zip(row.ratios, seen.ratios, strict=False):
        if value is not None:
            total += _flat(expected, value + part, "ratio", -7.0)
    return total


def _units(row, seen):
    if seen.units is None:
        return 0.0, 1.0
    low, high = seen.units
    fitting = [one for count, one in row.counts.items() if low <= count <= high]
    if fitting:
        chance, by = max(fitting)
        return chance - log(high - low + 1), by
    if any(low <= count <= high for count in row.spare):
        return -6.0, 1.0
    return (-16.0 if seen.clear else -7.0), 1.0


def _soft(bell, value, name):
    return BROAD[name] if bell is None else on_bell(bell, value, -6.0, -6.0)


def _flat(flat, value, name, floor):
    return BROAD[name] if flat is None else on_plateau(flat, value, floor)


def _size(row, value, *, whole):
    share = value - row.size
    if share > 0.003:
        return -14.0
    if not whole:
        return BROAD["size"]
    if share >= row.kept:
        return log(0.85 / (0.003 - row.kept))
    return max(log((1 - 0.85) / 0.5) - (row.kept - share) / 0.5, -8.0)


def _resident(row, count, size_bytes):
    if row.shared is None:
        return BROAD["resident"]
    away = abs(count - groups(row.shared, size_bytes))
    return (-0.1, -3.0)[away] if away < 2 else -5.0


@pytest.mark.parametrize("kind", ["genuine", "forged"])
def test_all_at_once_is_as_one_by_one(table, kind):
    every = profiles(table)
    for number in range(RUNS):
        run = truth_bench.simulate(kind, 17 * number, SEED)
        seen = evidence(Case(run.record, table))
        whole, chip = rows(table).likelihoods(seen)
        assert whole == pytest.approx(
            [_likelihood(one, seen) for one in every], abs=1e-9
        )
        bare = replace(seen, size=None)
        plain = [_likelihood(one, bare) - one.prior for one in every]
        assert chip == pytest.approx(plain, abs=1e-9)
        assert chip[::50] == pytest.approx(
            [chip_alone(one, seen) for one in every[::50]], abs=1e-9
        )
