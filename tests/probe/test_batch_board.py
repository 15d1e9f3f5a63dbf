"""What a person sees of a batch while it runs: lines in logs, else one a card."""

from msgspec.structs import replace

from probe.batch.board import Board, Drawn, Plain, board_for
from probe.events import Noted, PhaseBegan, PhaseEnded, Progressed, RunBegan, Troubled
from reports.batched import Batched
from reports.lasting import Incident
from reports.record import Phase

DONE = Batched(stock_no="S-42", folder="/b/S-42", outcome="as claimed", sentence="Yes.")


def ended(name, title):
    phase = Phase(name=name, outcome="done", started_seconds=0.0, seconds=2.0)
    return PhaseEnded(phase=phase, title=title, figure="8.00 GiB")


BEGAN = RunBegan(
    label="GTX 1070", practice_condition=None, folder=None, expected_seconds=None
)
CUT = Troubled(
    incident=Incident(kind="hung", phase="take", doing="taking memory", detail="mute")
)


def test_without_a_terminal_each_line_says_whose_it_is(console_of):
    console = console_of(width=120)
    board = board_for(console, quiet=False, as_json=False)
    assert type(board) is Plain
    with board:
        board.hear("S-1", BEGAN)
        board.hear("S-2", PhaseBegan(name="take", title="Taking memory"))
        board.hear("S-2", Progressed(done=1, total=2, figure="4.00 GiB"))
        board.hear("S-2", ended("take", "Taking memory"))
        board.hear("S-1", Noted(text="waiting\x1b[2J"))
        board.hear("S-1", CUT)
    lines = console.shown().splitlines()
    assert lines[0] == "S-1: testing GTX 1070"
    assert lines[1].split() == ["S-2:", "Taking", "memory", "2.00", "s", "8.00", "GiB"]
    assert lines[2] == "S-1: waiting\N{REPLACEMENT CHARACTER}[2J"
    assert lines[3].startswith("S-1: taking memory: ")


def test_on_a_terminal_each_card_has_its_line(console_of):
    console = console_of(width=100, terminal=True)
    time = iter(range(1000))
    board = Drawn(console, clock=lambda: float(next(time)))
    assert type(board_for(console, quiet=False, as_json=False)) is Drawn
    with board:
        for number in ("S-1", "S-20"):
            board.hear(number, BEGAN)
            board.hear(number, PhaseBegan(name="take", title="Taking memory"))
            board.hear(number, Progressed(done=1, total=2, figure="4.00 GiB"))
        last = console.shown()
        assert "S-1   Taking memory" in last
        assert "50 %" in last
        board.result(replace(DONE, stock_no="S-1"))
        after = console.shown()[len(last) :]
        assert "= S-1: Yes." in after
        drawn = after.rsplit("Documents:", 1)[1]
        assert "S-20  Taking memory" in drawn
        assert "S-1 " not in drawn


def test_on_a_narrow_terminal_how_far_it_is_comes_before_the_number(console_of):
    console = console_of(width=80, terminal=True)
    numbers = ("S-1", "Shelf 3 of the second rack, 0042")
    with Drawn(console, clock=lambda: 0.0) as board:
        for number in numbers:
            board.hear(number, PhaseBegan(name="take", title="Taking memory"))
            board._drawn = -1.0
            board.hear(number, Progressed(done=1, total=2, figure="4.00 GiB of 8.00"))
    shown = console.shown()
    last = shown.rsplit("…k, 0042  Taking memory", 1)[1]
    assert last.split()[:5] == ["50", "%", "1", "s", "left"]
    assert "Shelf" not in shown


class Gone:
    """A console whose reader has gone."""

    encoding = "utf-8"

    def print(self, *_, **__):
        raise BrokenPipeError


def test_a_reader_that_has_gone_ends_nothing():
    for kind in (Board, Plain):
        board = kind(Gone())
        board.result(DONE)
        board.hear("S-1", ended("take", "Taking memory"))


def test_quiet_and_json_show_nothing_meanwhile(console_of):
    for how in ({"quiet": True, "as_json": False}, {"quiet": False, "as_json": True}):
        console = console_of(width=100, terminal=True)
        with board_for(console, **how) as board:
            board.hear("S-1", BEGAN)
            board.hear("S-1", ended("take", "Taking memory"))
        assert console.shown() == ""
