"""The languages of a pack: one file each, complete or not there at all.

To add one: a file beside this one with `WORDING`, its code in `case.Language`, a line
here. `tests/reports/test_evidence_languages.py` says what it lacks.
"""

from importlib import import_module
from typing import Final, get_args

from reports.evidence.case import Language
from reports.evidence.wording import Wording

LANGUAGES: Final[tuple[Language, ...]] = get_args(Language)


def wording(language: Language) -> Wording:
    """Return what a language says."""
    found = import_module(f"reports.evidence.languages.{language}").WORDING
    assert isinstance(found, Wording)
    return found
