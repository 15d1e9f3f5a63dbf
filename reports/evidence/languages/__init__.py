"""The languages of a pack: one file each, complete or not there at all.

To add one: a file beside this one, named by its code (ISO 639-1), with `WORDING`.
`tests/reports/test_evidence_languages.py` says what it lacks.
"""

from functools import cache
from importlib import import_module
from pkgutil import iter_modules
from typing import Final

from reports.evidence.errors import EvidenceError
from reports.evidence.wording import Wording

LANGUAGES: Final = tuple(sorted(one.name for one in iter_modules(__path__)))


@cache
def wording(language: str) -> Wording:
    """Return what a language says. Raises EvidenceError for one that is not there."""
    if language not in LANGUAGES:
        raise EvidenceError(
            f"there is no language {language[:20]!r}; choose one of "
            + ", ".join(LANGUAGES)
        )
    found = import_module(f"reports.evidence.languages.{language}").WORDING
    assert isinstance(found, Wording)
    return found
