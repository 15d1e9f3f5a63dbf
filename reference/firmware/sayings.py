"""What a difference between two reads means, in a sentence each.

Words alone. Each says what is seen, the likeliest cause, and the next step.
"""

_AGAIN = "read again until several reads are the same"


def length(good: int, bad: int) -> str:
    """Two sizes, the same content as far as both go."""
    return (
        f"One file has {bad} bytes, the other {good}; as far as both go they are the "
        "same: the reader was set to another chip size."
    )


def blank(*, ones: bool) -> str:
    """Nothing but FF or 00."""
    return (
        f"Every byte is {'FF' if ones else '00'}: the chip has no power or the clip "
        "makes no contact."
    )


def dropped(first: int, last: int) -> str:
    """One stretch is blank."""
    return (
        f"From {first:#x} to {last:#x} one read is empty: the contact or the supply "
        f"was lost for a moment; {_AGAIN}."
    )


def data_line(line: int, width: int, *, high: bool) -> str:
    """One line only, one direction only."""
    turns = [str(bit) for bit in range(line, 8, width)]
    if len(turns) == 1:
        return (
            f"Only bit {line} of a byte ever differs, and it always reads as "
            f"{int(high)}: that data line does not move."
        )
    return (
        f"Only bits {', '.join(turns)} of a byte ever differ, and they always read as "
        f"{int(high)}: data line {line} of {width} does not move."
    )


def address_line(line: int, high: bool) -> str:  # noqa: FBT001 - as found
    """Half of the addresses read the other half."""
    return (
        f"Address line {line} stands at {int(high)}: half of the addresses read what "
        "lies at the others."
    )


def slipped(first: int) -> str:
    """Tell of a serial stream out of step."""
    return (
        f"From {first:#x} on the content is one bit out of step: a clock edge was "
        f"missed or doubled; slow the reader down and {_AGAIN}."
    )


def shifted(first: int, offset: int) -> str:
    """Bytes lost or added."""
    bytes_ = "byte" if abs(offset) == 1 else "bytes"
    return (
        f"From {first:#x} on the content lies {abs(offset)} {bytes_} too "
        f"{'high' if offset > 0 else 'low'}: the reader "
        f"{'added' if offset > 0 else 'lost'} bytes; {_AGAIN}."
    )


def scattered(count: int, *, rises: bool, falls: bool) -> str:
    """Bits flip here and there."""
    way = "in both directions" if rises and falls else f"always towards {int(rises)}"
    what = f"{count} bytes differ here and there" if count > 1 else "One byte differs"
    return (
        f"{what}, {way}: a loose contact or too fast a "
        f"clock; clean and reseat the clip, slow down, and {_AGAIN}."
    )
