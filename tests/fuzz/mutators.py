"""Another input out of one: by bytes, or with knowledge of its format.

Blind changes rarely pass a parser's first check; those that know the format reach what
lies behind it. Every choice comes from the `Random` that is handed in.
"""

import base64
import json
import re
from random import Random

from fuzz import nasty

MOST = 96 * 1024
"""No input grows longer than this, in bytes."""
_KEYS = ("schema", "blocks", "card", "claims", "", "__class__", "\u202e", "a" * 5000)


class Pairs(list):
    """A JSON object that keeps its order and its doubled keys."""


class Raw(bytes):
    """Written as it stands, whatever it is."""


def blind(data: bytes, rnd: Random) -> bytes:
    """Change a few bytes, knowing nothing."""
    made = bytearray(data)
    for _ in range(rnd.choice((1, 1, 1, 2, 4))):
        at = rnd.randrange(len(made) + 1)
        to = min(len(made), at + rnd.choice((1, 1, 2, 4, 16, 256)))
        match rnd.randrange(7):
            case 0 if made:
                made[at % len(made)] ^= 1 << rnd.randrange(8)
            case 1:
                made[at:at] = rnd.randbytes(rnd.choice((1, 2, 4, 8)))
            case 2:
                del made[at:to]
            case 3:
                made[at:at] = made[at:to] * rnd.choice((1, 2, 50))
            case 4:
                del made[at:]
            case 5:
                made[at:to] = bytes([rnd.choice((0, 255, 10, 32, 34, 92, 123, 91))])
            case _:
                made[at:to] = rnd.choice(nasty.JSON)
    return bytes(made[:MOST])


def json_text(data: bytes, rnd: Random) -> bytes:
    """Change a JSON text: now as a tree, now as tokens, now as bytes."""
    if rnd.random() < 0.1:
        return blind(data, rnd)
    try:
        tree = json.loads(data, object_pairs_hook=Pairs)
    except (ValueError, RecursionError):
        return blind(data, rnd)
    tree = tree_of(tree, rnd, tokens=True)
    made = dump(tree)
    if rnd.random() < 0.05:
        made = blind(made, rnd)
    return made[:MOST]


def tree_of(tree, rnd: Random, *, tokens: bool):
    """Return a tree of lists, pairs and scalars with a few changes made in it.

    With `tokens`, a value may become text that is no JSON.
    """
    holder = [tree]
    for _ in range(rnd.choice((1, 1, 1, 2, 3, 6))):
        parent, key = _chosen(holder, rnd)
        _change(parent, key, rnd, tokens=tokens)
        if not holder:
            holder = [None]
    return holder[0]


def _chosen(holder, rnd):
    """Return a container and the place in it that is to be changed."""
    parent, key = holder, 0
    while rnd.random() < 0.85:
        inner = _get(parent, key)
        if not isinstance(inner, list) or not inner:
            break
        parent, key = inner, rnd.randrange(len(inner))
    return parent, key


def _get(parent, key):
    return parent[key][1] if isinstance(parent, Pairs) else parent[key]


def _set(parent, key, value):
    parent[key] = (parent[key][0], value) if isinstance(parent, Pairs) else value


def _change(parent, key, rnd, *, tokens):  # noqa: C901, PLR0912 - one case a change
    value = _get(parent, key)
    match rnd.randrange(14):
        case 0 | 1:
            _set(parent, key, scalar(rnd))
        case 2 | 3:
            _set(parent, key, _tweaked(value, rnd))
        case 4 if tokens:
            _set(parent, key, Raw(rnd.choice(nasty.JSON)))
        case 5:
            del parent[key]
        case 6:
            times = rnd.choice((1, 1, 2, 10, 60))
            if len(dump(value)) * times < MOST:
                parent[key:key] = [parent[key]] * times
        case 7:
            other = rnd.randrange(len(parent))
            mine, theirs = _get(parent, key), _get(parent, other)
            _set(parent, key, theirs)
            _set(parent, other, mine)
        case 8 if isinstance(parent, Pairs):
            name = rnd.choice((*_KEYS, *(pair[0] for pair in parent)))
            parent[key] = (name, value)
        case 9 if isinstance(parent, Pairs):
            parent.insert(key, (rnd.choice(parent)[0], scalar(rnd)))
        case 10:
            _set(parent, key, [value])
        case 11:
            _set(parent, key, Pairs([(rnd.choice(_KEYS), value)]))
        case 12 if isinstance(value, list) and value:
            _set(parent, key, _get(value, rnd.randrange(len(value))))
        case 13 if isinstance(value, list):
            rnd.shuffle(value)
        case _:
            _set(parent, key, None)


def scalar(rnd: Random):
    """Return a value of any kind that JSON has, seldom a usual one."""
    match rnd.randrange(8):
        case 0:
            return None
        case 1:
            return rnd.random() < 0.5
        case 2 | 3:
            return rnd.choice(nasty.INTEGERS)
        case 4:
            return rnd.choice(nasty.FLOATS)
        case 5:
            return rnd.choice(([], Pairs()))
        case _:
            return string(rnd)


def string(rnd: Random) -> str:
    """Return a nasty text, seldom a long one."""
    if rnd.random() < 0.03:
        return rnd.choice(nasty.LONG)[:20000]
    return rnd.choice(nasty.STRINGS)


def _tweaked(value, rnd):
    if isinstance(value, bool) or value is None:
        return not value
    if isinstance(value, int):
        changes = (value + 1, value - 1, -value, value * 2, float(value % 2**53))
        return rnd.choice((*changes, value << 32, value ^ 1 << rnd.randrange(64)))
    if isinstance(value, float):
        return rnd.choice((-value, value * 1e10, value / 1e10, value * 1e300, 1 / 3))
    if isinstance(value, str):
        at = rnd.randrange(len(value) + 1)
        return rnd.choice(
            (
                value[:at],
                value[:at] + string(rnd) + value[at:],
                value * 9,
                value.upper(),
            )
        )[:20000]
    return scalar(rnd)


def dump(node) -> bytes:
    """Return a tree as JSON, doubled keys and raw tokens as they are."""
    parts: list[bytes] = []
    _write(node, parts)
    return b"".join(parts)


def _write(node, parts):
    if isinstance(node, Raw):
        parts.append(node)
    elif isinstance(node, Pairs):
        parts.append(b"{")
        for number, (key, value) in enumerate(node):
            parts.append(b"," * (number > 0) + json.dumps(key).encode() + b":")
            _write(value, parts)
        parts.append(b"}")
    elif isinstance(node, list):
        parts.append(b"[")
        for number, value in enumerate(node):
            parts.append(b"," * (number > 0))
            _write(value, parts)
        parts.append(b"]")
    elif isinstance(node, int) and not isinstance(node, bool):
        parts.append(_digits(node))
    else:
        parts.append(json.dumps(node).encode())


def _digits(number: int) -> bytes:
    try:
        return b"%d" % number
    except ValueError:  # longer than Python writes
        return b"-" * (number < 0) + b"1" + b"0" * 4400


def toml_text(data: bytes, rnd: Random) -> bytes:
    """Change a TOML text line by line, now and then byte by byte."""
    if rnd.random() < 0.1:
        return blind(data, rnd)
    lines = data.split(b"\n")
    for _ in range(rnd.choice((1, 1, 1, 2, 3))):
        at = rnd.randrange(len(lines))
        key, is_key, value = lines[at].partition(b" = ")
        match rnd.randrange(9):
            case 0 | 1 | 2 if is_key:
                lines[at] = key + b" = " + rnd.choice(nasty.TOML)
            case 3 if is_key:
                lines[at] = rnd.choice(lines).partition(b" = ")[0] + b" = " + value
            case 4 if is_key:
                text = string(rnd).encode("utf-8", "surrogatepass")
                lines[at] = (
                    key + b' = "' + text.replace(b'"', b"").replace(b"\n", b"") + b'"'
                )
            case 5:
                del lines[at]
            case 6:
                end = at + rnd.choice((1, 5, 20))
                lines[at:at] = lines[at:end] * rnd.choice((1, 2, 30))
            case 7:
                number = b"%d" % rnd.choice(
                    (0, 1, -1, 2, 64, 1024, 10**6, 2**31, 2**63)
                )
                lines[at] = re.sub(rb"\d+", number, lines[at], count=1)
            case _:
                lines.insert(at, rnd.choice(nasty.TOML_LINES))
        if not lines:
            lines = [b""]
    made = b"\n".join(lines)
    return (blind(made, rnd) if rnd.random() < 0.03 else made)[:MOST]


_LINK = re.compile(rb"base64,([A-Za-z0-9+/=]*)")


def page(data: bytes, rnd: Random) -> bytes:
    """Change a page around its record, or the record in it."""
    found = _LINK.search(data)
    if found and rnd.random() < 0.5:
        try:
            inner = base64.b64decode(found[1], validate=True)
        except ValueError:
            inner = b"{}"
        inner = json_text(inner, rnd)
        return data[: found.start(1)] + base64.b64encode(inner) + data[found.end(1) :]
    made = bytearray(data)
    for _ in range(rnd.choice((1, 1, 2, 4))):
        near = found.start() if found and rnd.random() < 0.7 else 0
        reach = 200 if near else len(made) + 1
        at = min(
            max(near + rnd.randrange(reach) - reach // 2 * bool(near), 0), len(made)
        )
        token = rnd.choice(nasty.MARKUP) * rnd.choice((1, 1, 1, 3, 200))
        made[at : at + rnd.choice((0, 0, 1, 8, 60))] = token
    return (blind(bytes(made), rnd) if rnd.random() < 0.2 else bytes(made))[:MOST]


def lines_of(data: bytes, rnd: Random) -> bytes:
    """Change a text a little: a nasty piece in it, or its bytes."""
    if rnd.random() < 0.5:
        at = rnd.randrange(len(data) + 1)
        piece = string(rnd).encode("utf-8", "surrogatepass")
        return (data[:at] + piece + data[at + rnd.choice((0, 0, 3)) :])[:MOST]
    return blind(data, rnd)
