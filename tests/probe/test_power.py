"""Whether the PC runs on its battery: Linux's sysfs-class-power, and psutil."""

import types

import psutil
import pytest

from probe import environment, power
from probe.errors import UsageError
from probe.power import NOTE, on_battery, power_note

BATTERY = {"type": "Battery", "present": "1"}
MOUSE = {"type": "Battery", "scope": "Device", "status": "Discharging", "online": "1"}


@pytest.fixture(autouse=True)
def _linux(monkeypatch):
    monkeypatch.setattr(power.sys, "platform", "linux")


def supplies(tmp_path, **every):
    for name, files in every.items():
        (tmp_path / name).mkdir()
        for file, text in files.items():
            (tmp_path / name / file).write_text(f"{text}\n")
    return tmp_path


def mains(online):
    return {"type": "Mains", "online": online}


@pytest.mark.parametrize(
    ("every", "told"),
    [
        ({}, None),
        ({"AC": mains(0), "BAT0": BATTERY | {"status": "Discharging"}}, True),
        ({"AC": mains(1), "BAT0": BATTERY | {"status": "Discharging"}}, False),
        ({"AC": mains(1), "BAT0": BATTERY | {"status": "Full"}}, False),
        ({"BAT0": BATTERY | {"status": "Discharging"}}, True),
        ({"BAT0": BATTERY | {"status": "Not charging"}}, False),
        ({"BAT0": BATTERY | {"status": "Unknown"}}, None),
        ({"AC": mains(0), "BAT0": BATTERY | {"status": "Unknown"}}, True),
        (
            {
                "BAT0": BATTERY | {"status": "Not charging"},
                "BAT1": BATTERY | {"status": "Discharging"},
            },
            True,
        ),
        (
            {
                "BAT0": BATTERY | {"status": "Charging"},
                "usb": {"type": "USB", "online": "1"},
            },
            False,
        ),
        ({"AC": mains(0)}, False),  # a PC without a battery runs, so it has power
        ({"hidpp_battery_0": MOUSE}, False),
        ({"AC": mains(1), "hidpp_battery_0": MOUSE}, False),
        ({"BAT0": {}}, False),
        ({"BAT0": {"type": "\x1b[2J" * 99, "status": "Discharging"}}, False),
    ],
)
def test_linux_supplies(every, told, tmp_path):
    assert on_battery(supplies(tmp_path, **every)) is told


def test_without_the_kernels_word_nothing_is_known(tmp_path):
    assert on_battery(tmp_path / "none") is None


@pytest.mark.parametrize(
    ("plugged", "told"), [(True, False), (False, True), (None, None)]
)
def test_elsewhere_psutil_is_asked(plugged, told, monkeypatch):
    monkeypatch.setattr(power.sys, "platform", "win32")
    battery = types.SimpleNamespace(percent=50, secsleft=1, power_plugged=plugged)
    monkeypatch.setattr(psutil, "sensors_battery", lambda: battery, raising=False)
    assert on_battery() is told


@pytest.mark.parametrize("failing", [None, OSError("no"), AttributeError("no")])
def test_a_pc_that_psutil_cannot_tell_of(failing, monkeypatch):
    def answer():
        if failing is not None:
            raise failing

    monkeypatch.setattr(power.sys, "platform", "darwin")
    monkeypatch.setattr(psutil, "sensors_battery", answer, raising=False)
    assert on_battery() is None


def test_a_short_test_is_remarked_and_a_long_one_refused():
    assert power_note("quick", battery=True) == NOTE
    assert power_note("standard", battery=True) == NOTE
    with pytest.raises(UsageError) as caught:
        power_note("thorough", battery=True)
    assert str(caught.value) == (
        "the PC runs on its battery, which a thorough test may drain before its end: "
        "plug in the mains adapter, or test with --depth standard"
    )
    with pytest.raises(UsageError, match="which a soak may drain"):
        power_note("standard", battery=True, soak=True)


@pytest.mark.parametrize("battery", [False, None])
@pytest.mark.parametrize("depth", ["quick", "standard", "thorough"])
def test_on_the_mains_or_where_it_is_not_known_nothing_is_said(depth, battery):
    assert power_note(depth, battery=battery, soak=True) is None


@pytest.mark.parametrize("told", [True, False, None])
def test_the_record_holds_it(told, monkeypatch):
    monkeypatch.setattr(environment, "on_battery", lambda: told)
    assert environment.host().on_battery is told
