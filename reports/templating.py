"""Templates of pages: found beside this file, escaping everything by themselves."""

from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from jinja2 import Template

_FOLDER: Final = resources.files("reports") / "templates"


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
    return environment.get_template(name)
