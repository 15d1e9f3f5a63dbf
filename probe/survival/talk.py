"""What the watching and the measuring process say to each other, and its framing.

Frames are a length (four bytes, little endian) and a message as MessagePack. What comes
out of a process that a driver may have damaged is parsed strictly, within a limit.
"""

import struct
from typing import BinaryIO, Literal

import msgspec
from msgspec import Struct

from probe import events
from probe.session import Plan
from reports.listing import Listing
from reports.record import CardIdentity, Claim

FRAME_LIMIT = 16 * 2**20
_LENGTH = struct.Struct("<I")

LayerName = Literal["opencl", "nvml", "bus"]


class Said(Struct, frozen=True, kw_only=True, tag=True):
    """What all messages share: the tag that names them on the way."""


class List(Said, frozen=True, kw_only=True):
    """Order: tell which cards are here, and what every layer says of them."""

    without: dict[LayerName, str] = {}
    """Layers that are not to be asked, and why: they ended a process before."""


class Pick(Said, frozen=True, kw_only=True):
    """Order: tell which card is meant."""

    wanted: str | None
    """An index, a PCI address, `cpu`, `all`, or none."""
    without: dict[LayerName, str] = {}


class Measure(Said, frozen=True, kw_only=True):
    """Order: test this card."""

    identity: CardIdentity
    plan: Plan
    patience: float


class Acked(Said, frozen=True, kw_only=True):
    """What you announced is stored: do it."""


class Stop(Said, frozen=True, kw_only=True):
    """The person wants it over: end what is under way, and say so."""


Order = List | Pick | Measure | Acked | Stop


class Target(Said, frozen=True, kw_only=True):
    """One card that is meant, and everything that its layers say of it."""

    identity: CardIdentity
    claims: tuple[Claim, ...]


class Picked(Said, frozen=True, kw_only=True):
    """Answer: the cards that are meant; or why none can be tested."""

    targets: tuple[Target, ...] = ()
    problem: str | None = None
    silent: Target | None = None
    """With a problem: the card that is meant all the same, for its claims alone."""


class Listed(Said, frozen=True, kw_only=True):
    """Answer: the cards of this PC."""

    listing: Listing


class Asking(Said, frozen=True, kw_only=True):
    """A layer is about to be asked: should it end the process, it was that one."""

    layer: LayerName
    seconds: float


class Refusal(Said, frozen=True, kw_only=True):
    """Answer: an error of ours, by whose fault it is."""

    fault: Literal["usage", "host", "card", "bug"]
    text: str


Word = Picked | Listed | Asking | Refusal | events.Event

_encoder = msgspec.msgpack.Encoder()
orders = msgspec.msgpack.Decoder(Order)
words = msgspec.msgpack.Decoder(Word)


class BabbleError(Exception):
    """What came is no frame of ours."""


NONSENSE = (BabbleError, msgspec.MsgspecError, UnicodeDecodeError, RecursionError)
"""What `receive` and the decoders raise for what is no message of ours."""


def send(stream: BinaryIO, message: Order | Word) -> None:
    """Write one message. Raises OSError where nobody listens any more."""
    body = _encoder.encode(message)
    stream.write(_LENGTH.pack(len(body)) + body)
    stream.flush()


def receive(stream: BinaryIO) -> bytes | None:
    """Return the next frame's body; None at the stream's end. Raises BabbleError."""
    head = _exactly(stream, _LENGTH.size)
    if not head:
        return None
    (size,) = _LENGTH.unpack(head)
    if size > FRAME_LIMIT:
        raise BabbleError(f"a message of {size} bytes")
    body = _exactly(stream, size)
    if len(body) < size:
        return None
    return body


def _exactly(stream: BinaryIO, size: int) -> bytes:
    data = stream.read(size)
    return data if len(data) == size or not data else b""
