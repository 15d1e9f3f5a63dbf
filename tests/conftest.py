"""What every test sees: the same terminal, locale and time zone on every machine."""

import itertools
import os

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "laptop",
    deadline=None,
    max_examples=50,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("ci", parent=settings.get_profile("laptop"), derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "laptop")

PINNED = {
    "COLUMNS": "80",
    "LINES": "40",
    "TERM": "xterm-256color",
    "LC_ALL": "C.UTF-8",
    "LANG": "C.UTF-8",
    "TZ": "UTC",
    "PYTHONHASHSEED": "0",
}
LOOSE = ("NO_COLOR", "FORCE_COLOR", "CLICOLOR", "CLICOLOR_FORCE", "COLORTERM")


def pytest_addoption(parser):
    parser.addoption("--card", help="also test this real card: tests/card")


def pytest_collection_modifyitems(config, items):
    """Leave out what needs a real card, unless one is named."""
    if config.getoption("--card") is None:
        items[:] = [item for item in items if item.get_closest_marker("card") is None]


@pytest.fixture(scope="session")
def _states(tmp_path_factory):
    """Number the state folders: every test has one of its own, made when needed."""
    above = tmp_path_factory.mktemp("state")
    return (str(above / str(number)) for number in itertools.count())


@pytest.fixture(autouse=True)
def _same_everywhere(monkeypatch, _states):
    monkeypatch.setenv("XDG_STATE_HOME", next(_states))
    for name, value in PINNED.items():
        monkeypatch.setenv(name, value)
    for name in LOOSE:
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def console_of():
    """Make consoles that write into memory: see `consoles.console_of`."""
    from consoles import console_of  # noqa: PLC0415 - only for the tests that draw

    return console_of


def pytest_terminal_summary(terminalreporter):
    """Print how far the table agrees with others': what `tests/outside` counted."""
    said = sorted(
        text
        for outcome in ("passed", "failed")
        for report in terminalreporter.getreports(outcome)
        for name, text in report.user_properties
        if name == "agreement"
    )
    if said:
        terminalreporter.section("the table of cards against others' tables")
        for line in said:
            terminalreporter.write_line(line)
