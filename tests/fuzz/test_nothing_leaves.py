"""Nothing goes out: no network, and no word of the PC's owner in what is stored.

Every Python process that a command starts is watched from its first line, by a
`sitecustomize` of ours; audit events are those of the Python documentation.
"""

import functools
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from fuzz import devices

from probe import commands
from probe.identity import cards, nvml
from probe.identity.bus import BusSight
from probe.identity.opencl import OpenClSight
from reports import codec, listing
from reports.page import extract_record
from reports.record import Host, Program, Record

ROOT = Path(__file__).parents[2]
GOLDEN = ROOT / "tests/data/golden/h100-sxm.json"
OWNER, NODE = "zebulonquux", "quuxnode"
WATCH = """
import os, sys
_told = os.environ["AUDIT_FILE"]
def _watch(event, arguments):
    if event.startswith(("socket.", "urllib.", "http.", "ftplib.", "smtplib.")):
        with open(_told, "a") as file:
            file.write(f"{event} {arguments!r}\\n")
        raise OSError("no network in this test")
sys.addaudithook(_watch)
"""
RENAME = f"""
import os, platform
_real = os.uname()
os.uname = lambda: os.uname_result((_real[0], "{NODE}", *_real[2:]))
platform.node = lambda: "{NODE}"
"""
COMMANDS = {
    "check": ("check", "--practice", "mirrored", "--depth", "quick", "--yes"),
    "crash": ("check", "--practice", "crashing-driver", "--depth", "quick", "--yes"),
    "processor": (
        "check",
        "--card",
        "cpu",
        "--depth",
        "quick",
        "--memory-limit",
        "64MiB",
    ),
    "list": ("list",),
    "list as JSON": ("list", "--json"),
    "show": ("show", str(GOLDEN)),
    "rejudge": ("rejudge", str(GOLDEN)),
    "compare": ("compare", str(GOLDEN), str(GOLDEN)),
    "lookup": ("lookup", "GTX 1070"),
    "ledger": ("ledger", "add", str(GOLDEN)),
}
STORING = ("check", "crash", "processor")


def run(name, tmp_path, *, within=()):
    """Run a command as an owner with a telling name; return what it came to."""
    home = tmp_path / "home" / OWNER
    place = tmp_path / "site"
    for folder in (home, place):
        folder.mkdir(parents=True)
    (place / "sitecustomize.py").write_text(WATCH + RENAME)
    audit = tmp_path / "audit"
    argv = list(COMMANDS[name])
    if name in STORING:
        argv += ["--out", str(home / "out")]
    if name in ("show", "compare"):
        argv += ["--page", str(home / "page.html")]
    ended = subprocess.run(
        [*within, sys.executable, "-m", "probe", *argv],
        cwd=home,
        env={
            **{key: value for key, value in os.environ.items() if "XDG" not in key},
            **dict.fromkeys(("USER", "LOGNAME", "USERNAME", "SUDO_USER"), OWNER),
            "HOSTNAME": NODE,
            "COMPUTERNAME": NODE,
            "HOME": str(home),
            "TMPDIR": str(home),
            "XDG_STATE_HOME": str(home / "state"),
            "PYTHONPATH": f"{place}{os.pathsep}{ROOT}",
            "AUDIT_FILE": str(audit),
        },
        capture_output=True,
        timeout=120,
        check=False,
    )
    assert ended.returncode in {0, 1, 3}, ended.stderr
    assert b"a bug in cardassay" not in ended.stderr
    return SimpleNamespace(
        out=ended.stdout,
        home=home,
        audit=audit.read_text() if audit.exists() else "",
    )


@pytest.fixture(scope="module")
def ended(tmp_path_factory):
    """Return what a command came to; each is run once for all that looks at it."""
    return functools.cache(lambda name: run(name, tmp_path_factory.mktemp("owner")))


def marks(name):
    return pytest.param(name, marks=pytest.mark.opencl) if name == "processor" else name


@pytest.mark.parametrize("name", [marks(one) for one in COMMANDS])
def test_no_socket_is_ever_made(name, ended):
    assert ended(name).audit == ""


def test_the_watch_sees_sockets_in_every_process(tmp_path):
    code = "import socket; socket.socket()"
    (tmp_path / "sitecustomize.py").write_text(WATCH)
    environment = {
        **os.environ,
        "PYTHONPATH": str(tmp_path),
        "AUDIT_FILE": str(tmp_path / "a"),
    }
    parent = f"import subprocess, sys; subprocess.run([sys.executable, '-c', {code!r}])"
    subprocess.run(
        [sys.executable, "-c", parent],
        env=environment,
        check=False,
        capture_output=True,
    )
    assert (tmp_path / "a").read_text().startswith("socket.__new__ ")


UNSHARE = ("unshare", "--user", "--map-root-user", "--net", "--")


def can_unshare():
    if shutil.which("unshare") is None:
        return False
    return (
        subprocess.run([*UNSHARE, "true"], check=False, capture_output=True).returncode
        == 0
    )


@pytest.mark.skipif(not can_unshare(), reason="this system gives no network of its own")
@pytest.mark.parametrize("name", ["check", "list", "rejudge"])
def test_without_any_network(name, tmp_path):
    assert run(name, tmp_path, within=UNSHARE).audit == ""


# --------------------------------------------------------------------------- the owner


def holds_owner(data):
    lowered = data.lower()
    return OWNER.encode() in lowered or NODE.encode() in lowered


@pytest.mark.parametrize("name", [marks(one) for one in STORING])
def test_what_is_stored_names_no_owner(name, ended):
    home = ended(name).home
    left = [path for path in home.rglob("*") if path.is_file()]
    left = [path for path in left if ".cache" not in path.parts]  # the driver's own
    assert {"record.json", "report.html"} <= {path.name for path in left}
    for path in left:
        assert not holds_owner(path.read_bytes()), path.name
    page = (home / "out/report.html").read_text("utf-8")
    record = (home / "out/record.json").read_bytes()
    assert extract_record(page) == record
    assert json.loads(record)["host"].keys() == {
        "system", "release", "machine", "python", "memory_bytes", "on_battery"
    }  # fmt: skip


@pytest.mark.parametrize("name", ["list", "list as JSON", "rejudge"])
def test_what_is_printed_names_no_owner(name, ended):
    assert not holds_owner(ended(name).out)


# ------------------------------------------------------------------------- the one card


class Talkative(dict):
    """Answers of a library that answers everything: with the function's own name."""

    def __contains__(self, name):
        return True

    def __missing__(self, name):
        return name


def test_nothing_that_names_one_single_board_is_kept():
    uuid = "GPU-00112233-4455-6677-8899-aabbccddeeff"
    place = SimpleNamespace(busId=b"00000000:01:00.0", pciDeviceId=0x1B8110DE)
    answers = Talkative(
        nvmlDeviceGetCount=1,
        nvmlDeviceGetUUID=uuid,
        nvmlDeviceGetPciInfo=place,
        nvmlDeviceGetCudaComputeCapability=[6, 1],
    )
    inventory = cards.find(
        opencl=OpenClSight,
        nvml=lambda: nvml.read(devices._Library(answers)),
        bus=BusSight,
    )
    (found,) = inventory.cards
    record = Record(
        program=Program(version="0"),
        practice=False,
        started="2026-11-25T12:00:00+00:00",
        depth="quick",
        host=Host(system="Linux", release="6", machine="x86_64", python="3"),
        card=found.identity,
        claims=found.claims,
    )
    told = codec.encode(record).decode()
    told += listing.encode_inventory(commands.as_listing(inventory)).decode()
    told += repr(inventory)
    assert "nvmlDeviceGetName" in told
    kept = {name for name in NAMES if name in told}
    assert kept <= {
        "nvmlDeviceGetName",
        "nvmlDeviceGetVbiosVersion",
        "nvmlDeviceGetBoardPartNumber",
        "nvmlDeviceGetInforomImageVersion",
        "nvmlSystemGetDriverVersion",
    }
    plain = told.lower().replace("-", "")
    assert "001122334455" not in plain
    assert "66778899" not in plain


def _names():
    import pynvml  # noqa: PLC0415 - for its names alone

    return [name for name in dir(pynvml) if name.startswith("nvml")]


NAMES = _names()
