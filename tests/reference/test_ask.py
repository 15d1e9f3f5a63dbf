"""What a person may type to find a card, and what it is understood as."""

import string

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reference.ask import ask
from reference.table import load

TABLE = load()

FORMS_OF_AN_ID = [
    "10de:1b81",
    "10DE:1B81",
    "0x10de:0x1b81",
    "0x10de 0x1b81",
    "10de 1b81",
    "10de-1b81",
    "[10de:1b81]",
    "1b81",
    "0x1B81",
    "pci:v000010DEd00001B81sv000010DEsd0000119Dbc03sc00i00",
    r"PCI\VEN_10DE&DEV_1B81&SUBSYS_119D10DE&REV_A1",
    "01:00.0 VGA [0300]: NVIDIA Corporation GP104 [Name] [10de:1b81] (rev a1)",
]


@pytest.mark.parametrize("text", FORMS_OF_AN_ID)
def test_an_id_is_read_in_every_form_that_systems_print(text):
    answer = ask(TABLE, text)
    assert answer.kind == "id"
    assert {row.model for row in answer.rows} == {"GeForce GTX 1070"}


@pytest.mark.parametrize(
    ("text", "models"),
    [
        ("1002:67df", None),
        ("1002:67df (rev e7)", {"Radeon RX 580"}),
        (r"PCI\VEN_1002&DEV_67DF&SUBSYS_0B311002&REV_E7", {"Radeon RX 580"}),
    ],
)
def test_a_revision_behind_the_id_narrows_it(text, models):
    found = {row.model for row in ask(TABLE, text).rows}
    assert found == models if models else len(found) > 3


@pytest.mark.parametrize(
    ("text", "chip", "kind"),
    [
        ("GP104", "GP104", "chip"),
        ("GP104-200-A1", "GP104", "marking"),
        ("gp104-400", "GP104", "marking"),
        ("GK107-450-A2", "GK107", "marking"),
        ("AD102-300-A1", "AD102", "marking"),
        ("Navi 21 XTX", "Navi 21", "marking"),
        ("Polaris 20 XTX", "Ellesmere", "marking"),
        ("Ellesmere", "Ellesmere", "chip"),
        ("gfx1030", "Navi 21", "chip"),
        ("gfx1030:xnack-", "Navi 21", "chip"),
        ("BMG-G21", "BMG-G21", "chip"),
    ],
)
def test_chips_markings_and_targets(text, chip, kind):
    answer = ask(TABLE, text)
    assert (answer.kind, answer.chips) == (kind, (chip,))
    assert answer.rows
    assert {row.chip for row in answer.rows} == {chip}


def test_models_come_before_bare_numbers():
    assert {row.model for row in ask(TABLE, "Radeon HD 7970").rows} >= {
        "Radeon HD 7970"
    }
    assert {row.chip for row in ask(TABLE, "GTX 1060 3GB").rows} >= {"GP106"}


def test_what_is_not_there_is_offered_what_comes_near():
    assert "GeForce GTX 1070" in ask(TABLE, "GTX 1071").near
    answer = ask(TABLE, "10de:1b9f")
    assert not answer.rows
    assert answer.chips == ("GP104",)
    assert answer.near[0].startswith("10de:1ba")
    assert ask(TABLE, "zzzz").near == ()


def test_cards_whose_details_are_unknown_are_told(tmp_path):
    one = TABLE.seen[0]
    answer = ask(TABLE, one.pci)
    assert one in answer.seen
    assert one in ask(TABLE, one.model).seen


@given(st.text(st.sampled_from(string.printable), max_size=300))
@settings(max_examples=300)
def test_any_text_gets_an_answer(text):
    answer = ask(TABLE, text)
    assert answer.rows or answer.kind in {"name", "id", "chip", "marking"}


@given(st.sampled_from(TABLE.variants))
@settings(max_examples=100)
def test_every_row_is_found_by_name_chip_and_id(row):
    assert row in ask(TABLE, row.model).rows
    assert row in ask(TABLE, row.chip).rows
    for pci in row.pci:
        assert row in ask(TABLE, pci).rows
