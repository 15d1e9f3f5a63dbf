"""One run a card: held through the operating system, given up by death."""

import importlib.util
import os
import re
import signal
import subprocess
import sys
import types

import pytest

from probe import locks, places
from probe.errors import HostError
from probe.locks import lock_card, lock_name
from probe.places import state_folder
from reports.record import CardIdentity

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="signals and folders are POSIX's here"
)
HOLD = """
import sys, time
from probe.locks import lock_card
from reports.record import CardIdentity
card = CardIdentity(label="Card", kind="gpu", index=0, pci_address=sys.argv[1])
lock = lock_card(card)
print("held" if lock.note is None else lock.note, flush=True)
sys.stdin.read()
"""


def card(address="0000:01:00.0", label="GeForce GTX 1070", index=0):
    return CardIdentity(label=label, kind="gpu", index=index, pci_address=address)


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path / "state" / "cardassay"


def another_run(address="0000:01:00.0"):
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, address],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout.readline() == "held\n"
    return process


def test_a_second_run_on_the_card_is_told_who_holds_it():
    with another_run() as other:
        with pytest.raises(HostError) as caught:
            lock_card(card())
        other.stdin.close()
        other.wait()
    assert re.fullmatch(
        rf"GeForce GTX 1070: another run is testing this card \(process {other.pid}, "
        r"since 20\d\d-\d\d-\d\dT[0-9:]+\+00:00\); wait for its end, or name another "
        r"card with --card",
        str(caught.value),
    )
    lock_card(card()).release()


def test_a_killed_run_holds_nothing():
    with another_run() as other:
        other.send_signal(signal.SIGKILL)
        other.wait()
    with lock_card(card()) as lock:
        assert lock.note is None


def test_other_cards_are_free():
    with another_run("0000:02:00.0") as other:
        with lock_card(card()) as lock:
            assert lock.note is None
        other.stdin.close()
        other.wait()


def test_a_child_that_inherits_it_holds_the_card_on():
    lock = lock_card(card())
    with subprocess.Popen(
        [sys.executable, "-c", "import sys; sys.stdin.read()"],
        stdin=subprocess.PIPE,
        pass_fds=[lock._file],
    ) as child:
        os.close(lock._file)  # as if this process had been killed
        with pytest.raises(HostError, match=f"process {os.getpid()}, since"):
            lock_card(card())
        child.stdin.close()
        child.wait()
    lock_card(card()).release()


def test_given_back_once_or_twice_it_can_be_had_again(state):
    for _ in range(3):
        lock = lock_card(card())
        assert lock._file is not None
        lock.release()
        lock.release()
        assert lock._file is None
        assert (state / "card-0000-01-00-0.lock").read_bytes() == b""


def test_the_file_names_its_holder_for_nobody_else(state):
    with lock_card(card()):
        path = state / "card-0000-01-00-0.lock"
        assert path.read_text().startswith(f"process {os.getpid()} since 20")
        assert path.stat().st_mode & 0o077 == 0
        assert state.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("left", [b"", b"\xff\x00" * 500, b"process 1 since \x1b[2J\n"])
def test_a_file_that_says_nonsense_names_nobody(left, state):
    with lock_card(card()):
        (state / "card-0000-01-00-0.lock").write_bytes(left)
        with pytest.raises(HostError, match="this card; wait for its end"):
            lock_card(card())


def test_without_an_address_name_and_place_tell_cards_apart():
    assert lock_name(card(None)) == "card-geforce-gtx-1070-0.lock"
    assert lock_name(card(None, index=1)) == "card-geforce-gtx-1070-1.lock"
    hostile = lock_name(card("../../etc/passwd\n\x1b" + "a" * 999))
    assert re.fullmatch(r"card-[a-z0-9-]{1,80}\.lock", hostile)
    long = {lock_name(card(None, "x" * 4096, index)) for index in range(12)}
    assert len(long) == 12


def test_a_path_that_is_no_plain_file_is_left_alone(state, tmp_path):
    state.mkdir(parents=True)
    victim = tmp_path / "victim"
    victim.write_text("precious")
    (state / "card-0000-01-00-0.lock").symlink_to(victim)
    lock = lock_card(card())
    assert lock.note.startswith("no lock on the card (Too many levels of symbolic")
    lock.release()
    assert victim.read_text() == "precious"
    (state / "card-0000-01-00-0.lock").unlink()
    (state / "card-0000-01-00-0.lock").mkdir()
    assert "directory" in lock_card(card()).note


def test_where_nothing_can_be_written_it_goes_on_with_a_note(tmp_path, monkeypatch):
    (tmp_path / "state").write_text("a file where a folder should be")
    assert state_folder() is None
    lock = lock_card(card())
    assert lock.note == (
        "no lock on the card (there is no folder for it that could be written): start "
        "no second test of it meanwhile"
    )
    assert lock._file is None


@pytest.mark.parametrize("failing", ["open", "flock"])
def test_a_file_system_that_refuses_is_no_obstacle(failing, monkeypatch):
    fcntl = pytest.importorskip("fcntl")

    def refuse(*_):
        raise OSError(37, "No locks available")

    where = fcntl if failing == "flock" else os
    with monkeypatch.context() as patch:
        patch.setattr(where, failing, refuse)
        lock = lock_card(card())
    assert lock.note.startswith("no lock on the card (No locks available)")


def test_a_full_disk_locks_all_the_same(monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(locks.os, "write", full)
    with lock_card(card()) as lock:
        assert lock.note is None
        with pytest.raises(HostError, match="this card; wait for its end"):
            lock_card(card())


def test_no_home_no_folder(monkeypatch):
    def none():
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.setattr(places.Path, "home", none)
    assert state_folder() is not None  # named by the environment
    monkeypatch.delenv("XDG_STATE_HOME")
    assert state_folder() is None


@pytest.mark.parametrize("named", ["", "relative/path"])
def test_an_unusable_xdg_state_home_means_the_usual_place(named, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", named)
    monkeypatch.setenv("HOME", str(tmp_path))
    assert state_folder() == tmp_path / ".local" / "state" / "cardassay"


def test_a_folder_that_may_not_be_written_is_none(monkeypatch):
    monkeypatch.setattr(places.os, "access", lambda *_: False)
    assert state_folder() is None


def test_windows_keeps_it_in_its_own_place(tmp_path, monkeypatch):
    monkeypatch.setattr(places.sys, "platform", "win32")
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "local"))
    assert state_folder() == tmp_path / "local" / "cardassay"
    monkeypatch.delenv("LOCALAPPDATA")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert state_folder() == tmp_path / "AppData" / "Local" / "cardassay"


class Bytes:
    """`msvcrt.locking` as its documentation has it, for files of one process."""

    LK_NBLCK, LK_UNLCK = 2, 0

    def __init__(self):
        self.held = {}

    def locking(self, file, mode, count):
        stat = os.fstat(file)
        place = (stat.st_ino, os.lseek(file, 0, os.SEEK_CUR), count)
        if mode == self.LK_UNLCK:
            assert self.held.pop(place) == file
        elif place in self.held:
            raise PermissionError(13, "Permission denied")
        else:
            self.held[place] = file


def test_the_same_by_windows_own_means(monkeypatch, state):
    known = Bytes()
    fake = types.SimpleNamespace(
        LK_NBLCK=known.LK_NBLCK, LK_UNLCK=known.LK_UNLCK, locking=known.locking
    )
    monkeypatch.setitem(sys.modules, "msvcrt", fake)
    spec = importlib.util.spec_from_file_location("locks_of_windows", locks.__file__)
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, spec.name, module)
    with monkeypatch.context() as patch:
        patch.setattr(sys, "platform", "win32")
        spec.loader.exec_module(module)
    with module.lock_card(card()) as lock:
        assert lock.note is None
        ((_, at, count),) = known.held
        assert (at, count) == (2**30, 1)  # far beyond what others must read
        with pytest.raises(HostError, match=f"process {os.getpid()}, since"):
            module.lock_card(card())
    assert known.held == {}
