"""Stock numbers out of scanners, commands and lists; folders' names; who goes first.

What a scanner frames a code with: ISO/IEC 15424 (`]C1` before the data), ISO/IEC 15434
(GS, RS, EOT as separators and ends), from memory.
"""

import string
from dataclasses import dataclass
from pathlib import PureWindowsPath

import pytest
from hypothesis import given as each
from hypothesis import strategies as st
from record_strategies import HOSTILE

from probe.batch import numbers, sharing
from probe.errors import UsageError
from reports.ledger.entry import line, stock_key


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("S-0042\n", "S-0042"),
        ("S-0042\r\n", "S-0042"),
        ("  S-0042\t", "S-0042"),
        ("]C1S-0042\n", "S-0042"),
        ("\x1d]d2S-0042\x1d\n", "S-0042"),
        ("\x02S-0042\x03\n", "S-0042"),
        ("S-0042\x1e\x04\n", "S-0042"),
        ("\ufeffS-0042\n", "S-0042"),
        ("Regal 3 / Fach 7\n", "Regal 3 / Fach 7"),
        ("Größe-9\n", "Größe-9"),
        ("]\n", "]"),
        ("\n", ""),
        (" \t\x1d\r\n", ""),
        ("]C1\n", ""),
    ],
)
def test_a_scanned_line_is_a_number(typed, number):
    assert numbers.scanned(typed) == number


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("01\x1d10ABC\n", "signs that cannot be printed on one line"),
        ("\x1b[A\n", "a key for the cursor"),
        ("S\x1b[2J\n", "a key for the cursor"),
        ("S\u202e42\n", "signs that cannot be printed"),
        ("S  42\n", "signs that cannot be printed"),
        ("x" * 81, "longer than 80 characters"),
        ("x" * 10_000, "longer than 80 characters"),
    ],
)
def test_what_is_no_number_is_said(typed, why):
    with pytest.raises(UsageError, match=why):
        numbers.scanned(typed)


@each(st.one_of(st.text(max_size=100), st.sampled_from(HOSTILE)))
def test_any_line_is_a_fit_number_or_refused(text):
    try:
        number = numbers.scanned(text)
    except UsageError as error:
        said = str(error)
        assert said.isprintable()
        return
    if number:
        assert line(number, "--stock-no") == number
        assert numbers.scanned(number) in (number, numbers.scanned(number[3:]))
        name = numbers.folder_name(number)
        assert 1 <= len(name) <= 80
        assert set(name) <= set(string.ascii_letters + string.digits + "._-")
        assert name.strip(".") == name
        assert not PureWindowsPath(name).is_reserved()


@pytest.mark.parametrize(
    "name",
    ["con", "NUL.txt", "aux.txt.", "com1", "a.", ".hidden", "A/1", "µ", "S_0123abcd"],
)
def test_what_no_folder_can_be_called_is_called_otherwise(name):
    folder = numbers.folder_name(name)
    assert folder != name
    assert folder[-9] == "_"
    assert not PureWindowsPath(folder).is_reserved()


def test_a_number_that_is_another_s_folder_has_its_own():
    folder = numbers.folder_name("S/1")
    assert numbers.folder_name(folder) not in (folder, numbers.folder_name("S-1"))


def test_numbers_that_differ_have_folders_that_differ():
    several = [
        "A/1",
        "A\\1",
        "A:1",
        "A-1",
        "A 1",
        "a.b",
        "µ",
        "ß",
        "A/1" * 20,
        "x" * 80,
    ]
    names = [numbers.folder_name(one).lower() for one in several]
    assert len(set(names)) == len(several)
    assert numbers.folder_name("S/1") == numbers.folder_name("S/1")
    assert numbers.folder_name("S/1").lower() == numbers.folder_name("s/1").lower()


def test_numbers_given_twice_or_empty_are_refused():
    assert numbers.given(["S-1", " S-2 "]) == ("S-1", "S-2")
    with pytest.raises(UsageError, match="stock number s-1: is given twice"):
        numbers.given(["S-1", "s-1"])
    with pytest.raises(UsageError, match="must not be empty"):
        numbers.given(["S-1", " "])


def test_a_list_names_places_and_numbers():
    text = (
        '\ufeff# rack 3\r\n0000:01:00.0, S-1\r\n\r\n1;"S;2"\n'
        '"02:00.0"\tS-3\n3, "quote "" inside"\n'
    )
    found = [(one.line, one.where, one.number) for one in numbers.listed(text, "L")]
    assert found == [
        (2, "0000:01:00.0", "S-1"),
        (4, "1", "S;2"),
        (5, "02:00.0", "S-3"),
        (6, "3", 'quote " inside'),
    ]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("S-1", "L, line 1: must be a PCI address or an index, a comma"),
        ("1,", "L, line 1: must be"),
        (",S-1", "L, line 1: must be"),
        ("address,number\n0,S-1", "L, line 1: must be"),
        ("0,S-1\n1,S\x1b[2J", "L, line 2: that was a key"),
        ("0,S-1\n0,S-2", "L, line 1: 0 is there twice"),
        ("0,S-1\n1,s-1", "stock number s-1: is given twice"),
        ("\n" * 10_002, "more than 10000 lines"),
    ],
)
def test_a_list_that_says_something_else_is_refused(text, why):
    with pytest.raises(UsageError, match=why):
        numbers.listed(text, "L")


@each(st.text(max_size=300))
def test_any_list_is_read_or_refused(text):
    try:
        found = numbers.listed(text, "L")
    except UsageError:
        return
    assert len({stock_key(one.number) for one in found}) == len(found)


@pytest.mark.parametrize(
    ("processors", "gib", "asked", "most"),
    [
        (16, 64, None, 4),
        (16, None, None, 4),
        (4, 64, None, 2),
        (2, 64, None, 1),
        (1, 64, None, 1),
        (16, 3, None, 3),
        (16, 0.1, None, 1),
        (2, 1, 8, 8),
        (16, 64, 1, 1),
    ],
)
def test_how_many_at_once(processors, gib, asked, most):
    available = None if gib is None else int(gib * 2**30)
    assert sharing.at_once(processors, available, asked) == most


@dataclass(frozen=True)
class Card:
    name: str
    alone: bool = False


def test_what_may_bring_a_driver_down_goes_first_and_alone():
    a, b, c, d = Card("a"), Card("b", alone=True), Card("c"), Card("d", alone=True)
    assert sharing.waves([a, b, c, d]) == ((b,), (d,), (a, c))
    assert sharing.waves([b]) == ((b,),)
    assert sharing.waves([]) == ()
