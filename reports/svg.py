"""Inline SVG, put together from escaped strings: elements, numbers, one frame.

Knows shapes, not records. Colours are classes that the page's style sheet fills in
(`ink`, `accent`, `warn`, `faint`); `currentColor` stands in where there is none.
"""

from html import escape

from reports.text import plain

LONGEST = 1024
LONGEST_PATH = 2**16
"""Characters of an attribute: a line of many points is cut nowhere."""


def text(value: str, limit: int = LONGEST) -> str:
    """Return outside text as safe content or attribute value of an element."""
    return escape(plain(value, limit), quote=True)


def number(value: float) -> str:
    """Return a coordinate with two decimals at most, the same on every machine."""
    shown = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if shown in {"", "-0"} else shown


def share(value: float) -> str:
    """Return a coordinate as a percentage of the picture's width or height."""
    return f"{number(100 * value)}%"


def element(name: str, *children: str, **attributes: str | float) -> str:
    """Return one element. `children` are markup; attribute values are escaped.

    Underscores stand for hyphens; a trailing one is dropped (`class_`). Names that
    SVG writes in camel case are given as they are.
    """
    parts = [name]
    for key, value in attributes.items():
        shown = value if isinstance(value, str) else number(value)
        label = key.removesuffix("_").replace("_", "-")
        parts.append(f'{label}="{text(shown, LONGEST_PATH)}"')
    opening = " ".join(parts)
    if not children:
        return f"<{opening}/>"
    return f"<{opening}>{''.join(children)}</{name}>"


def picture(
    ident: str, title: str, description: str, *children: str, **attributes: str | float
) -> str:
    """Return a whole picture with its title and its description in words."""
    return element(
        "svg",
        element("title", text(title), id=f"{ident}-title"),
        element("desc", text(description), id=f"{ident}-desc"),
        *children,
        xmlns="http://www.w3.org/2000/svg",
        role="img",
        aria_labelledby=f"{ident}-title {ident}-desc",
        **attributes,
    )


def line(
    x1: str | float, y1: str | float, x2: str | float, y2: str | float, class_: str
) -> str:
    """Return a straight line."""
    return element(
        "line", x1=x1, y1=y1, x2=x2, y2=y2, stroke="currentColor", class_=class_
    )


def box(
    x: str | float,
    y: str | float,
    width: str | float,
    height: str | float,
    class_: str,
) -> str:
    """Return a rectangle; its class says how it is filled."""
    return element(
        "rect", x=x, y=y, width=width, height=height, fill="currentColor", class_=class_
    )


def label(x: str | float, y: str | float, words: str, class_: str, anchor: str) -> str:
    """Return a word or two at a place; `anchor` is start, middle or end."""
    return element(
        "text", text(words), x=x, y=y, text_anchor=anchor, class_=f"label {class_}"
    )
