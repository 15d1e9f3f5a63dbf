"""Records that are valid by the schema and absurd by value.

Walks the schema beside the values, so that whatever is changed stays within its bounds:
what comes out passes the parser and meets everything behind it.
"""

from functools import cache
from random import Random

import msgspec
from fuzz import mutators, nasty
from msgspec import inspect

from reports.record import Record

_LONGEST = 4096


@cache
def _kind():
    return inspect.type_info(Record)


def record_bytes(data: bytes, rnd: Random) -> bytes:
    """Return another valid record; seldom one made from nothing."""
    if rnd.random() < 0.02:
        return msgspec.json.encode(made(_kind(), rnd))
    try:
        tree = msgspec.json.decode(data)
        for _ in range(rnd.choice((1, 1, 2, 4, 12))):
            tree = changed(_kind(), tree, rnd)
        text = msgspec.json.encode(tree)
        return text if len(text) <= mutators.MOST else data
    except (
        msgspec.MsgspecError,
        TypeError,
        AttributeError,
        LookupError,
        ValueError,
        OverflowError,
    ):
        return msgspec.json.encode(made(_kind(), rnd))


def changed(kind, value, rnd):  # noqa: PLR0911 - one case a type of the schema
    """Return `value` with one thing in it changed, still of its kind."""
    match kind:
        case inspect.StructType():
            field = rnd.choice(kind.fields)
            name = field.encode_name
            if not field.required and name != "schema" and rnd.random() < 0.05:
                return {key: one for key, one in value.items() if key != name}
            if name in value:
                return value | {name: changed(field.type, value[name], rnd)}
            return value | {name: made(field.type, rnd)}
        case inspect.UnionType():
            inner = [one for one in kind.types if not isinstance(one, inspect.NoneType)]
            if value is None:
                return made(rnd.choice(inner), rnd)
            if rnd.random() < 0.1:
                return None
            return changed(inner[0], value, rnd) if len(inner) == 1 else made(kind, rnd)
        case inspect.VarTupleType():
            return _listed(kind, list(value), rnd)
        case inspect.TupleType():
            at = rnd.randrange(len(value))
            inner = kind.item_types[at]
            return [*value[:at], changed(inner, value[at], rnd), *value[at + 1 :]]
    return made(kind, rnd)


def _listed(kind, value, rnd):
    if not value:
        return [made(kind.item_type, rnd) for _ in range(rnd.choice((1, 1, 2, 8)))]
    at = rnd.randrange(len(value))
    match rnd.randrange(10):
        case 0:
            del value[at]
        case 1:
            value[at:at] = [value[at]] * rnd.choice((1, 2, 40))
        case 2:
            rnd.shuffle(value)
        case 3:
            value.clear()
        case 4:
            value.insert(at, made(kind.item_type, rnd))
        case _:
            value[at] = changed(kind.item_type, value[at], rnd)
    return value


def made(kind, rnd):  # noqa: PLR0911 - one case a type of the schema
    """Return a random value that one schema type accepts."""
    match kind:
        case inspect.StructType():
            return {one.encode_name: made(one.type, rnd) for one in kind.fields}
        case inspect.UnionType():
            return made(rnd.choice(kind.types), rnd)
        case inspect.VarTupleType():
            return [made(kind.item_type, rnd) for _ in range(rnd.choice((0, 0, 1, 3)))]
        case inspect.TupleType():
            return [made(one, rnd) for one in kind.item_types]
        case inspect.LiteralType():
            return rnd.choice(kind.values)
        case inspect.StrType():
            return mutators.string(rnd)[: kind.max_length or _LONGEST]
        case inspect.IntType():
            low, high = kind.ge, kind.le
            fits = [
                one
                for one in nasty.INTEGERS
                if (low is None or one >= low)
                and (high is None or one <= high)
                and abs(one) < 2**64
            ]
            return rnd.choice(fits)
        case inspect.FloatType():
            low = -1e30 if kind.ge is None else kind.ge
            high = 1e30 if kind.le is None else kind.le
            return rnd.choice([one for one in nasty.FLOATS if low <= one <= high])
        case inspect.BoolType():
            return rnd.random() < 0.5
    return None
