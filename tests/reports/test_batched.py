"""What came of a card of a batch: its lines and its JSON."""

import json

import pytest
from msgspec.structs import replace
from record_strategies import HOSTILE

from reports import batched
from reports.batched import Batched, Before, Entered

DONE = Batched(
    stock_no="S-42",
    folder="/b/S-42",
    card="GeForce GTX 1070",
    pci_address="0000:01:00.0",
    outcome="as claimed",
    sentence="Sold as a GeForce GTX 1070. As claimed.",
    certificate="/b/S-42/certificate.html",
    ledger=Entered(
        record=12,
        card=9,
        how="stock number",
        remark="The stock number is the same; nothing else tells.",
        visits=2,
        before=Before(day="2026-11-20", outcome="faulty", stock_no="S-41"),
    ),
)


BEFORE = "here before on 2026-11-20: faulty, as S-41"


def shown(console_of, told, **how):
    console = console_of(width=200)
    console.print(batched.render(told, **how))
    return console.shown().splitlines()


def test_all_that_was_done_with_a_card_is_told(console_of):
    assert shown(console_of, DONE) == [
        "= S-42: Sold as a GeForce GTX 1070. As claimed.",
        "    Certificate: /b/S-42/certificate.html",
        f"    Ledger: record 12, card 9; {BEFORE}. {DONE.ledger.remark}",
        "    Documents: /b/S-42",
    ]


def test_what_could_not_be_done_is_told(console_of):
    told = replace(
        DONE,
        outcome="faulty",
        sentence="Bits.",
        certificate=None,
        not_certified=("Reason one.", "Reason two."),
        ledger=None,
        not_in_ledger="no answer",
        remarks=("a battery",),
        picked_up=True,
        interrupted=True,
        practice=True,
    )
    assert shown(console_of, told) == [
        "! S-42: Practice run: no real card was tested. Bits. Stopped before its end.",
        "    Tested before this start of the batch; picked up.",
        "    Not certified. Reason one. Reason two.",
        "    Ledger, not told: no answer",
        "    Note: a battery",
        "    Documents: /b/S-42",
    ]
    lost = Batched(stock_no="S-1", folder="/b/S-1", problem="No record: gone")
    assert shown(console_of, lost)[0] == "? S-1: No record: gone"
    assert shown(console_of, DONE, brief=True) == [
        "= S-42: Sold as a GeForce GTX 1070. As claimed."
    ]


def test_a_doubtful_number_stands_out(console_of):
    told = replace(DONE, ledger=replace(DONE.ledger, doubtful=True, before=None))
    line = shown(console_of, told)[2]
    assert line.startswith("    Ledger: record 12, card 9. ! The stock number is")


def test_json_is_one_line_with_every_field():
    line = batched.encode(DONE)
    assert line.count(b"\n") == 1
    told = json.loads(line)
    assert tuple(told) == Batched.__struct_fields__
    assert told["ledger"]["before"] == {
        "day": "2026-11-20", "outcome": "faulty", "stock_no": "S-41",
    }  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_texts_are_harmless(console_of, text):
    told = replace(
        DONE,
        stock_no=text,
        sentence=text,
        folder=text,
        not_certified=(text,),
        remarks=(text,),
        ledger=replace(DONE.ledger, remark=text),
    )
    out = "\n".join(shown(console_of, told))
    assert not set("\x1b\x07\x9b\u202e") & set(out)
    assert not set("\x1b\x07\x9b\u202e") & set(batched.encode(told).decode())
