"""Templates of pages: found beside this file, escaping everything by themselves.

Every page extends `frame.html.j2`, which allows one style sheet, by its hash, and
nothing else: no script, no request. `style_of` puts that sheet together.
"""

import base64
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from importlib import resources
from typing import TYPE_CHECKING, Final

from reports.text import tied

if TYPE_CHECKING:
    from jinja2 import Template

_FOLDER: Final = resources.files("reports") / "templates"


@dataclass(frozen=True, slots=True)
class Style:
    """One style sheet, and the hash by which a page's policy allows it."""

    text: str
    sha256: str
    """Base64, as a content security policy writes it."""


@cache
def style_of(*names: str) -> Style:
    """Return files of the folder as one sheet, the first first."""
    text = "\n" + "".join(text_of(name) for name in names)
    return Style(text, base64.b64encode(sha256(text.encode("utf-8")).digest()).decode())


def text_of(name: str) -> str:
    """Return a file out of the folder of templates."""
    return (_FOLDER / name).read_text("utf-8")


@cache
def template(name: str) -> "Template":
    """Return a template: what it lacks is an error, what it is given is escaped."""
    from jinja2 import (  # noqa: PLC0415 - start-up: only pages need it
        Environment,
        FunctionLoader,
        StrictUndefined,
    )

    environment = Environment(
        loader=FunctionLoader(text_of),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["tied"] = tied
    return environment.get_template(name)
