"""Finds a Chromium that runs. For the test command too: standard library only."""

import functools
import shutil
import subprocess

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
PACKAGES = {
    "chromium": "a browser that opens every page",
    "fonts-dejavu-core": "letters for it",
}
MUST = "CARDASSAY_MUST_HAVE_BROWSER"
"""Set in CI: there the tests of pages fail without a browser, elsewhere they skip."""
NONE = (
    "no Chromium that runs: apt-get install chromium (Debian), or Google's Chrome; "
    "Ubuntu's chromium-browser is only a pointer to a snap"
)


@functools.cache
def find():
    """Return the path of a browser that says its version, else None.

    What only points to a snap that is not there says something else.
    """
    for path in filter(None, map(shutil.which, NAMES)):
        try:
            said = subprocess.run(
                (path, "--version"),
                capture_output=True,
                text=True,
                timeout=60,
                check=False,
            )
        except (OSError, subprocess.SubprocessError):
            continue
        if said.returncode == 0 and said.stdout.startswith(("Chromium", "Google")):
            return path
    return None
