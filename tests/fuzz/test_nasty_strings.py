"""Nasty strings by every way in, and out by every way: text stays text."""

import io
import json
import re
from contextlib import suppress
from datetime import UTC, datetime
from functools import cache
from html.parser import HTMLParser

import pytest
from command_line import command, keep_table
from fuzz import devices, nasty, registry, seeds
from record_strategies import with_every_text
from rich.console import Console

from probe import environment, folder
from probe.identity import bus_linux, bus_windows
from probe.identity.opencl import _vendors
from probe.identity.sensors import AmdSensors
from probe.opencl.programs import complaint
from reports import codec, listing
from reports.page import render_page
from reports.rejudged import compare, render_rejudged
from reports.terminal import render_result
from reports.text import plain

EVERY = (*nasty.STRINGS, *nasty.LONG, *nasty.SURROGATES)
TEXTS = (*nasty.STRINGS, *(text[:4096] for text in nasty.LONG))
COLOUR = re.compile(r"\x1b\[[\d;]*m")


def ids(text):
    return ascii(text[:20])


def leaves(tree, path=()):
    """Yield the path of every string in a tree."""
    pairs = tree.items() if isinstance(tree, dict) else enumerate(tree)
    for key, value in pairs:
        if isinstance(value, str):
            yield (*path, key)
        elif isinstance(value, dict | list):
            yield from leaves(value, (*path, key))


def with_leaf(tree, path, text):
    key, *rest = path
    copy = dict(tree) if isinstance(tree, dict) else list(tree)
    copy[key] = with_leaf(copy[key], rest, text) if rest else text
    return copy


# ------------------------------------------------------------------------- ways in


@pytest.mark.parametrize("text", EVERY, ids=ids)
def test_drivers_and_libraries(text):
    """Each string that OpenCL, NVML, sysfs or the registry gives, one at a time."""
    for path in leaves(devices.PLAYED):
        devices.whole(json.dumps(with_leaf(devices.PLAYED, path, text)).encode())


def harmless(text):
    assert text == plain(text, 10**9)


@pytest.mark.parametrize("text", EVERY, ids=ids)
def test_files_and_folders_of_sysfs(text, tmp_path):
    raw = text.encode("utf-8", "surrogatepass")
    place = tmp_path / "sys/bus/pci/devices/0000:01:00.0"
    monitor = place / "hwmon/hwmon0"
    monitor.mkdir(parents=True)
    (tmp_path / "pci.ids").write_bytes(b"10de  " + raw + b"\n\t1b81  " + raw + b"\n")
    for name in (*devices.PLAYED["sysfs"], "product_name", "vbios_version"):
        (place / name).write_bytes(raw)
    for name in ("temp1_label", "temp1_input", "temp1_crit", "power1_cap", "pwm1"):
        (monitor / name).write_bytes(raw)
    for name in ("vendor", "device", "class"):
        (place / name).write_text(devices.PLAYED["sysfs"][name])
    part = plain(raw).replace("/", "_").replace("\0", "_")[:60]
    with suppress(OSError):  # a name that the file system does not take
        (place / f"drm/card0/card0-{part}").mkdir(parents=True)
        (place / f"drm/card0/card0-{part}/status").write_bytes(raw)
    with suppress(OSError, ValueError):
        (place / "driver").symlink_to(f"../{text[:80]}")
    sight = bus_linux.read(tmp_path, names=(tmp_path / "pci.ids",))
    (found,) = sight.devices
    told = [
        found.name,
        found.driver,
        *(one for pair in found.connectors for one in pair),
    ]
    told += (
        [found.word.model, found.word.firmware, found.word.driver] if found.word else []
    )
    for one in told:
        harmless(one or "")
    AmdSensors.of(place).read(0.0, "x")


@pytest.mark.parametrize("text", EVERY, ids=ids)
def test_words_of_the_system(text, monkeypatch, tmp_path):
    for name in ("system", "release", "machine"):
        monkeypatch.setattr(environment.platform, name, lambda: text)
    host = environment.host()
    for one in (host.system, host.release, host.machine):
        harmless(one)
        assert one
    name = text.replace("/", "_").replace("\0", "_")[:60]
    with suppress(OSError, UnicodeEncodeError):
        (tmp_path / f"{name}.icd").touch()
    with suppress(ValueError):
        where, registered = _vendors({"OCL_ICD_VENDORS": str(tmp_path)})
        for one in (where, *registered):
            harmless(one or "")


@pytest.mark.parametrize("text", EVERY, ids=ids)
def test_errors_of_the_registry(text):
    class Registry:
        HKEY_LOCAL_MACHINE = None

        def OpenKey(self, *_):  # noqa: N802 - winreg's name
            raise OSError(5, text)

    for note in bus_windows.read(Registry(), None).notes:
        harmless(note)


@pytest.mark.parametrize("text", EVERY, ids=ids)
def test_build_logs(text):
    said = plain(complaint(f"{text}\nx: error: {text}"), 300)
    harmless(said)
    assert len(said) <= 300


@pytest.mark.parametrize("text", EVERY, ids=ids)
def test_names_of_folders(text, monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_DOCUMENTS_DIR", str(tmp_path))
    made = folder.open_folder(None, text, datetime(2026, 11, 25, tzinfo=UTC))
    made.close()
    assert made.path.parent == tmp_path
    assert re.fullmatch(
        r"cardassay_[a-z0-9][a-z0-9-]{0,59}_2026-11-25_00\.00\.00", made.path.name
    )


@pytest.mark.parametrize("text", [one for one in EVERY if "\0" not in one], ids=ids)
def test_claims_by_hand(text, capsys, tmp_path, monkeypatch):
    keep_table(monkeypatch)
    ended = command(
        capsys,
        tmp_path / "out",
        "--practice",
        "--depth=quick",
        "--quiet",
        f"--claim={text}",
    )
    assert ended.code in {0, 1, 2, 3}
    for said in (ended.out, ended.err):
        assert len(said) < 5000
        assert said.replace("\n", "").isprintable()
    if ended.code != 2:
        harmless(ended.raw["claims"][0]["model"])


# ------------------------------------------------------------------------ ways out


class Markup(HTMLParser):
    """Collects what a page's markup consists of, whatever the text between."""

    def __init__(self, page):
        super().__init__()
        self.found = set()
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.found.add(tag)
        self.found |= {(tag, name) for name, _ in attrs}
        self.found |= {
            (tag, name, value) for name, value in attrs if name in {"href", "src"}
        }

    def handle_comment(self, data):
        self.found.add("comment")

    def handle_pi(self, data):
        self.found.add("instruction")

    def unknown_decl(self, data):
        self.found.add("declaration")


@cache
def known():
    """What our own pages consist of."""
    pages = (render_page(one, b"{}") for one in seeds.records())
    return set().union(*(Markup(page).found for page in pages))


@cache
def full():
    """The record with the most in it, of each thing a few."""
    return seeds.slim(max(seeds.records(), key=lambda one: len(codec.encode(one))))


@pytest.mark.parametrize("text", TEXTS, ids=ids)
def test_pages(text):
    page = render_page(with_every_text(full(), text), b"{}")
    assert Markup(page).found <= known()
    assert not registry._CONTROL.search(page)


@pytest.mark.parametrize("text", TEXTS, ids=ids)
@pytest.mark.parametrize("width", [20, 80, 200])
def test_terminals(text, width):
    record = with_every_text(full(), text)
    file = io.StringIO()
    console = Console(
        file=file,
        width=width,
        force_terminal=True,
        color_system="truecolor",
        highlight=False,
        markup=False,
        emoji=False,
    )
    console.print(render_result(record, width, page=text))
    console.print(render_rejudged(compare(record, full()), width))
    shown = COLOUR.sub("", file.getvalue())
    assert not registry._CONTROL.search(shown)
    if "[red]" in text and width > 20:
        assert "[red]not red[/red]" in shown


@pytest.mark.parametrize("text", TEXTS, ids=ids)
def test_json(text):
    data = codec.encode(with_every_text(full(), text))
    assert not registry._CONTROL.search(data.decode())
    if text.isprintable():
        assert codec.decode(data).card.label == text


@pytest.mark.parametrize("text", TEXTS, ids=ids)
@pytest.mark.parametrize("width", [40, 80])
def test_listings(text, width):
    """A listing comes out of another process, which a driver may have damaged."""
    card = listing.ListedCard(
        identity=full().card, claims=full().claims, disagreements=("x",), notes=("x",)
    )
    view = with_every_text(listing.Listing(cards=(card,), notes=("x",)), text)
    file = io.StringIO()
    console = Console(
        file=file, width=width, force_terminal=True, highlight=False, markup=False
    )
    console.print(listing.render_inventory(view, width))
    assert not registry._CONTROL.search(COLOUR.sub("", file.getvalue()))
    assert not registry._CONTROL.search(listing.encode_inventory(view).decode())
