"""Random records for hypothesis: whatever the schema allows, hostile text too."""

import functools

import msgspec
from hypothesis import strategies as st
from msgspec import inspect

from reports.record import Record

HOSTILE = (
    "",
    " ",
    "</script><b>bold</b>",
    '"><img src=x onerror=alert(1)>',
    "[red]not red[/red]",
    "[/]",
    "\x1b[31mred\x1b[0m\x1b]0;title\x07",
    "\u202egnp.exe\u2066",
    "{{ 7 * 7 }}{% raw %}",
    "]]></desc></svg><svg onload=x>",
    "a\r\nb\0c\x85d\u2028e",
    "\ufeff\ufffe\U000e0041",
    "é" * 4096,
    "https://example.com/x.js",
    "&amp;&lt;",
    "GeForce GTX 1070",
)
"""Strings that a device, a driver or a listing might hold."""

texts = st.sampled_from(HOSTILE) | st.text(max_size=12)


def of(kind):  # noqa: C901, PLR0911 - one case a type of the schema
    """Return a strategy for the built-in values that one schema type accepts."""
    match kind:
        case inspect.StructType():
            return st.deferred(lambda: _fields(kind))
        case inspect.UnionType():
            return st.one_of(*(of(one) for one in kind.types))
        case inspect.VarTupleType():
            most = 2 if kind.max_length is None else min(kind.max_length, 2)
            return st.lists(of(kind.item_type), max_size=most)
        case inspect.TupleType():
            return st.tuples(*(of(one) for one in kind.item_types))
        case inspect.LiteralType():
            return st.sampled_from(kind.values)
        case inspect.StrType():
            return _strings(kind)
        case inspect.IntType():
            low = -(2**62) if kind.ge is None else kind.ge
            return st.integers(low, 2**62 if kind.le is None else kind.le)
        case inspect.FloatType():
            return st.floats(kind.ge, kind.le)
        case inspect.BoolType():
            return st.booleans()
        case inspect.NoneType():
            return st.none()
    raise NotImplementedError(kind)


def _strings(kind):
    if kind.pattern is not None:
        return st.from_regex(kind.pattern, fullmatch=True)
    most = kind.max_length or 4096
    return texts.filter(lambda text: (kind.min_length or 0) <= len(text) <= most)


def _fields(kind):
    """A struct's fields; a read of firmware is too large to be made up each time."""
    return st.fixed_dictionaries(
        {
            field.encode_name: st.none()
            if field.name == "firmware_report"
            else of(field.type)
            for field in kind.fields
        }
    )


def records():
    """Return a strategy for records."""
    built = of(inspect.type_info(Record))
    return built.map(lambda values: msgspec.convert(values, Record))


def with_every_text(record, text):
    """Return the record, or a part of one, with every free text in it replaced."""
    return msgspec.convert(_replaced(record, text), type(record))


def _replaced(value, text):
    if isinstance(value, msgspec.Struct):
        free = _free(type(value))
        return {
            name: _filled(getattr(value, name), text)
            if name in free
            else _replaced(getattr(value, name), text)
            for name in value.__struct_fields__
        }
    if isinstance(value, tuple):
        return [_replaced(one, text) for one in value]
    return value


@functools.cache
def _free(kind):
    return {
        field.encode_name
        for field in inspect.type_info(kind).fields
        if _is_free(field.type)
    }


def _filled(value, text):
    return [text for _ in value] if isinstance(value, tuple) else text


def _is_free(kind):
    match kind:
        case inspect.StrType():
            return kind.pattern is None
        case inspect.UnionType():
            return any(_is_free(one) for one in kind.types)
        case inspect.VarTupleType():
            return _is_free(kind.item_type)
    return False
