"""What kinds of work take of a card: thresholds alone, each published or counted.

One entry a kind of work. Kinds are general; a product is named only as the source of a
figure, never as something that will run. Sizes printed in GB are read as 10^9 bytes,
the smaller reading: a genuine card shows less than its nominal size. What is counted
here says how; what was read says where and when.
"""

from typing import Final, Literal

from reference.use_figures import Quantity
from reports.base import Base, Few, Positive, Text

GB: Final = 1e9
GIB: Final = 2.0**30
T: Final = 1e12

HD: Final = 1920 * 1080
QHD: Final = 2560 * 1440
UHD: Final = 3840 * 2160
PIXEL: Final = 4
"""Bytes of a pixel as shown: red, green, blue, 8 bit each, and 8 unused."""
PICTURES: Final = 3
"""One shown, one waiting, one being drawn."""
WINDOWS: Final = 10
WINDOW_PICTURES: Final = 2
"""Of each window as large as the display: one to show, one being drawn."""
RATE: Final = 60
"""Pictures a second of a common display."""
FILM: Final = 24
"""Pictures a second of cinema film: fewer no longer look like motion."""
VIDEO_PIXEL: Final = 1.5
"""Bytes of a decoded pixel: 8 bit brightness, colour for every fourth."""
FILM_SHARE: Final = FILM / RATE
RATED: Final = 0.75
"""Of a rated speed of memory, what counts as it when measured: published speeds are
ratings, and the middle one of 148 devices in Lehmann's table reaches that share."""
COARSE: Final = 0.25
"""Of the memory of textures, once they have half the width and half the height."""
PHOTO: Final = 20e6 * 16
"""Bytes of a 20-megapixel photo in four channels of 32 bit."""
CORE: Final = 16
"""Double-precision operations a clock of a core with two 256-bit multiply-add units:
2 units x 4 numbers x 2 operations."""
CORES: Final = 8
OFFICE_CORES: Final = 4
PROCESSOR: Final = CORES * 4e9 * CORE
"""8 such cores at 4 GHz."""
OFFICE: Final = OFFICE_CORES * 4e9 * CORE
"""4 such cores: fewer are rare in any PC."""
FOUR_BIT: Final = (32 * 4 + 16) / 32 / 8
"""Bytes of a weight where 32 weights of 4 bit share one scale of 16 bit."""
HALF: Final = 2.0
ROOM: Final = 1.2
"""Weights, and what a model keeps beside them while it writes."""
READING: Final = 238 / 60 / 0.75
"""Parts of words a second at reading speed: 238 words a minute, 3/4 word a part."""
TRAINED: Final = 18.0
"""Bytes a trained weight: 6 itself, 8 for the optimiser, 4 for its gradient."""
TRAINED_WHOLE: Final = 85 / 4
"""The same with intermediate results: 85 GB for 4 billion."""


class Level(Base, frozen=True, kw_only=True):
    """One quantity of a kind of work: below `least` no, from `full` on yes."""

    of: Quantity
    full: Positive
    least: Positive | None = None
    """None: less only makes it slower."""


class Work(Base, frozen=True, kw_only=True):
    """One kind of work."""

    name: Text
    title: Text
    levels: Few[Level]
    needs: Text
    sources: Few[Text] = ()
    """Keys of `use_sources.SOURCES`."""
    shown: bool = False
    """Whether it takes a display at this card."""
    wide: bool = False
    """Whether older sockets do not carry so large a picture, or only slowly."""
    rendered: bool = False
    """Whether current versions ask for a newer kind of chip."""
    weights: Positive = 0.0
    """Bytes that are read once for every part of a word."""
    further: Literal["ratio", "weights"] | None = None
    """What else is told: single to double precision, or the largest model to train."""


def _desk(name: str, width: int, height: int) -> Work:
    size = width * height * PIXEL
    beside = WINDOWS * WINDOW_PICTURES
    return Work(
        name=name,
        title=f"Office work on a display of {width} x {height}",
        levels=(
            Level(of="memory", least=PICTURES * size, full=(PICTURES + beside) * size),
            Level(of="memory_read", least=RATE * size, full=4 * RATE * size),
        ),
        needs=(
            f"Counted: a picture is {width} x {height} x {PIXEL} bytes, "
            f"{size / 1e6:.1f} MB; {PICTURES} of them, and {beside} more for {WINDOWS} "
            f"windows as large. Each is read or written four times, {RATE} times a "
            "second."
        ),
        shown=True,
        wide=width * height >= UHD,
    )


def _motion(
    name: str, size: tuple[int, int], memory: float, read: float, fp32: float
) -> Work:
    return Work(
        name=name,
        title=f"Games and other 3D in motion, {size[0]} x {size[1]}",
        levels=(
            Level(of="memory", least=COARSE * memory, full=memory),
            Level(of="memory_read", least=FILM_SHARE * RATED * read, full=RATED * read),
            Level(of="fp32", least=FILM_SHARE * fp32, full=fp32),
        ),
        needs=(
            f"As much as a device that was built for it: {memory / GB:g} GB, "
            f"{read / GB:g} GB/s rated, of which {RATED:g} count when measured, and "
            f"{fp32 / T:g} TFLOP/s. In proportion: with {FILM_SHARE:g} of its speed, "
            f"{RATE} pictures a second become {FILM}; with a quarter of its memory, "
            "textures have half the width and height."
        ),
        sources=(name, "rated"),
        shown=True,
        wide=size[0] * size[1] >= UHD,
    )


def _text(name: str, billions: int, bits: str, weight: float) -> Work:
    size = billions * 1e9 * weight
    return Work(
        name=name,
        title=f"Writing text: a language model of {billions} billion weights, {bits}",
        levels=(
            Level(of="memory", least=size, full=ROOM * size),
            Level(of="memory_read", full=READING * size),
        ),
        needs=(
            f"Counted: {billions} billion x {weight:g} bytes are {size / GB:.3g} GB of "
            f"weights; with a fifth beside them {ROOM * size / GB:.3g} GB. Each token, "
            f"a part of a word, reads all weights once; {READING:.2f} tokens a second "
            "are reading speed."
        ),
        sources=("room", "reading", "tokens"),
        weights=size,
    )


WORKS: Final[tuple[Work, ...]] = (
    _desk("desk-hd", 1920, 1080),
    _desk("desk-uhd", 3840, 2160),
    Work(
        name="video-shown",
        title="Showing 4K video that the processor decodes",
        levels=(
            Level(
                of="memory", least=PICTURES * UHD * PIXEL, full=PICTURES * UHD * PIXEL
            ),
            Level(
                of="link_up",
                least=FILM * UHD * VIDEO_PIXEL,
                full=RATE * UHD * VIDEO_PIXEL,
            ),
        ),
        needs=(
            f"Counted: 3840 x 2160 x {VIDEO_PIXEL} bytes a picture over the link, "
            f"{FILM} to {RATE} times a second. Which video the card itself decodes was "
            "not measured."
        ),
        shown=True,
        wide=True,
    ),
    Work(
        name="photos",
        title="Developing photos of 20 megapixels",
        levels=(Level(of="memory", least=2 * PHOTO, full=3 * GB),),
        needs="Two buffers of 320 MB at least; 3 GB for all steps at once.",
        sources=("photos",),
    ),
    Work(
        name="drawing",
        title="Technical drawing in two and three dimensions",
        levels=(
            Level(of="memory", least=1 * GB, full=4 * GB),
            Level(of="memory_read", least=29 * GB * RATED, full=106 * GB * RATED),
        ),
        needs=(
            "1 GB and 29 GB/s at least, 4 GB and 106 GB/s recommended. The speeds are "
            f"ratings; measured, {RATED:g} of them count."
        ),
        sources=("drawing", "rated"),
        shown=True,
    ),
    Work(
        name="editing-hd",
        title="Editing HD video",
        levels=(Level(of="memory", least=2 * GB, full=4 * GB),),
        needs="2 GB at least, 4 GB recommended.",
        sources=("editing",),
    ),
    Work(
        name="editing-uhd",
        title="Editing 4K video",
        levels=(Level(of="memory", least=4 * GB, full=6 * GB),),
        needs="6 GB recommended; at least the 4 GB that are for HD.",
        sources=("editing",),
    ),
    Work(
        name="scenes",
        title="Rendering 3D scenes",
        levels=(Level(of="memory", least=2 * GB, full=8 * GB),),
        needs="2 GB at least, 8 GB recommended: a scene lies in memory as a whole.",
        sources=("scenes", "rendered"),
        rendered=True,
    ),
    _motion("motion-hd", (1920, 1080), 8 * GB, 176 * GB, 1.84 * T),
    _motion("motion-qhd", (2560, 1440), 8 * GB, 224 * GB, 4 * T),
    _motion("motion-uhd", (3840, 2160), 10 * GB, 560 * GB, 12.155 * T),
    Work(
        name="double",
        title="Computing in double precision",
        levels=(Level(of="fp64", least=OFFICE, full=PROCESSOR),),
        needs=(
            f"Counted: more than a processor of {CORES} cores at 4 GHz does, {CORES} x "
            f"4 GHz x {CORE} = {PROCESSOR / GB:g} GFLOP/s; with less than one of "
            f"{OFFICE_CORES} cores, {OFFICE / GB:g} GFLOP/s, it saves no time."
        ),
        further="ratio",
    ),
    _text("text-8-4", 8, "4 bit each", FOUR_BIT),
    _text("text-8-16", 8, "16 bit each", HALF),
    _text("text-70-4", 70, "4 bit each", FOUR_BIT),
    Work(
        name="pictures",
        title="Making pictures with a large diffusion model",
        levels=(Level(of="memory", least=4 * GB, full=8.961 * GIB),),
        needs=(
            "8.961 GiB (9.62 GB) with 16-bit weights, 7.866 GiB with 8-bit weights. "
            "With less, down to 4 GB, its parts are loaded in turn: slowly."
        ),
        sources=("pictures", "parts"),
    ),
    Work(
        name="training",
        title="Training a model of 1 billion weights",
        levels=(Level(of="memory", least=TRAINED * GB, full=TRAINED_WHOLE * GB),),
        needs=(
            f"{TRAINED:g} bytes a weight at least, {TRAINED_WHOLE:g} with intermediate "
            "results."
        ),
        sources=("training",),
        further="weights",
    ),
)
"""All kinds of work, the everyday ones first."""
