"""One browser a worker. Without one: skipped aloud on a laptop, failed in CI."""

import os

import browsers
import pytest


def _without(reason):
    if os.environ.get(browsers.MUST):
        pytest.fail(reason)
    pytest.skip(reason)


@pytest.fixture(scope="session")
def browser():
    from pages.browser import launch  # noqa: PLC0415 - only where there is one
    from playwright.sync_api import Error, sync_playwright  # noqa: PLC0415

    path = browsers.find()
    if path is None:
        _without(browsers.NONE)
    with sync_playwright() as playwright:
        try:
            started = launch(playwright, path)
        except Error as error:
            _without(f"{path} does not start: {error.message.splitlines()[0]}")
        yield started
        started.close()


@pytest.fixture(scope="session")
def window(browser):
    """Return one without scripts."""
    from pages.browser import Window  # noqa: PLC0415 - as above

    opened = Window(browser, accept_downloads=True)
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def scripted(browser):
    """Return one that runs scripts where a page's policy lets it."""
    from pages.browser import Window  # noqa: PLC0415 - as above

    opened = Window(browser, java_script_enabled=True)
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def unguarded(browser):
    """Return one that runs scripts whatever a page's policy says."""
    from pages.browser import Window  # noqa: PLC0415 - as above

    opened = Window(browser, java_script_enabled=True, bypass_csp=True)
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def pages_of_kinds(tmp_path_factory):
    """Return the file of each kind's page and the files it carries, made once."""
    folder = tmp_path_factory.mktemp("pages")
    made = {}

    def of(kind):
        if kind.name not in made:
            carries = kind.carries()
            file = folder / f"{kind.name}.html"
            file.write_bytes(kind.page(carries))
            made[kind.name] = file, carries
        return made[kind.name]

    return of
