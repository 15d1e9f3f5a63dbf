"""Passphrases: out of a file, or asked for without an echo. Never kept, never shown."""

import getpass
import sys
import warnings
from pathlib import Path

from probe.errors import UsageError
from reports.certificate.keys import PASSPHRASE_LIMIT
from reports.files import contents
from reports.text import named

_TRIES = 3


def from_file(path: str) -> str:
    """Return a file's first line. Raises UsageError."""
    try:
        data = contents(Path(path), PASSPHRASE_LIMIT + 2)
        line = data.split(b"\n", 1)[0].removesuffix(b"\r").decode("utf-8")
    except OSError as error:
        raise UsageError(
            f"--passphrase-file: {named(path)} cannot be read: {error.strerror}"
        ) from None
    except UnicodeDecodeError:
        raise UsageError(f"--passphrase-file: {named(path)} is no text") from None
    if not line:
        raise UsageError(f"--passphrase-file: the first line of {named(path)} is empty")
    if len(line.encode()) > PASSPHRASE_LIMIT:
        raise UsageError(
            f"--passphrase-file: the first line of {named(path)} is longer than "
            f"{PASSPHRASE_LIMIT} bytes"
        )
    return line


def ask_once(what: str) -> str:
    """Ask for a key's passphrase. Raises UsageError where there is no terminal."""
    return _ask(f"Passphrase of {what}: ")


def ask_new() -> str:
    """Ask twice for a new passphrase. Raises UsageError where the two differ."""
    for _ in range(_TRIES):
        first = _ask("New passphrase: ")
        if not first:
            raise UsageError(
                "no passphrase was given; without one, leave --passphrase out"
            )
        if _ask("The same again: ") == first:
            return first
        sys.stderr.write("The two differ.\n")
    raise UsageError("the two passphrases differed each time; no key was made")


def _ask(prompt: str) -> str:
    if sys.stdin is None or not sys.stdin.isatty():
        raise UsageError(
            "there is no terminal to ask for the passphrase; name the file that holds "
            "it with --passphrase-file"
        )
    with warnings.catch_warnings():
        warnings.simplefilter("error", getpass.GetPassWarning)
        try:
            return getpass.getpass(prompt, stream=sys.stderr)
        except (getpass.GetPassWarning, EOFError):
            raise UsageError(
                "the passphrase cannot be asked for without showing it; name the file "
                "that holds it with --passphrase-file"
            ) from None
