"""One run of the unmodified program under the layer, and what is true of it.

Nothing here knows what the program should say: the tests do.
"""

import json
import subprocess
import sys
from pathlib import Path

import counterfeit

ROOT = Path(__file__).parent.parent.parent
MIB = 2**20


class Meeting:
    """One run of `cardassay check` under the layer: what it said, and what is true."""

    def __init__(self, layer, folder, *options, card="0", surroundings=None, **lies):
        ledger = folder / "ledger"
        environment = counterfeit.environment(
            layer, ledger=ledger, **{"device_type": "gpu", **lies}
        )
        environment |= surroundings or {}
        self.done = subprocess.run(
            [
                *(sys.executable, "-m", "probe", "check", "--card", card, "--yes"),
                *("--depth", "quick", "--out", str(folder / "out"), *options),
            ],
            cwd=ROOT,
            env=environment,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        assert "Traceback" not in self.done.stderr
        path = folder / "out" / "record.json"
        assert path.exists(), self.done.stdout + self.done.stderr
        self.record = json.loads(path.read_text())
        self.capacity = self.record["capacity"]
        self.blocks = self.capacity["blocks"] if self.capacity else []
        self.places = places(ledger, len(self.blocks)) if self.blocks else []

    @property
    def outcome(self):
        return self.record["verdict"]["outcome"], self.done.returncode

    @property
    def states(self):
        return [block["state"] for block in self.blocks]


def places(ledger, count):
    """Return (address, size) of the blocks of the proof, in the order taken.

    They are the last `count` buffers alive when most memory was held. A buffer given
    back at once was only tried.
    """
    lines = [line.split() for line in ledger.read_text().splitlines()]
    moves = [(sign, (int(address), int(size))) for sign, address, size in lines]
    alive, most = [], []
    for at, (sign, place) in enumerate(moves):
        if sign == "-":
            if place in alive:
                alive.remove(place)
        elif moves[at + 1 : at + 2] != [("-", place)]:
            alive.append(place)
            if sum(size for _, size in alive) > sum(size for _, size in most):
                most = list(alive)
    return most[len(most) - count :]


def megabytes(places):
    return {a + at for a, size in places for at in range(0, size, MIB)}


def findings(record, rule):
    return [finding for finding in record["findings"] if finding["rule"] == rule]


def meeter(layer, make_folder):
    """Return what runs the program under the layer.

    The layer's memory is the PC's, all equally fast. A block that ran at a fraction of
    the others' speed was starved by another process: then once more, thrice at most.
    """

    def run(*options, **lies):
        for _ in range(3):
            met = Meeting(layer, make_folder("met"), *options, **lies)
            if "spilled" not in met.states:
                break
        return met

    return run
