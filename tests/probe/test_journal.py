"""The journal: what was written is read again, up to damage of any kind."""

import errno
import os
import zlib

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from told_runs import SEED, short, started, story_of, written

from probe.events import Ended, HostMemory, Linked, Noted, PhaseBegan, Refused, Sensed
from probe.survival import journal
from probe.survival.conclude import retold
from probe.survival.journal import Journal, JournalError
from reports import codec
from reports.errors import RecordError
from reports.record import Sample

FIRST = 1
"""A run's first line, which says what was asked for, cannot be done without."""


def starts_of(data):
    """The byte at which each line starts, and the end of all."""
    starts = [0]
    while starts[-1] < len(data):
        starts.append(data.index(b"\n", starts[-1]) + 1)
    return starts


@pytest.fixture(scope="module")
def whole():
    """A journal of a real run: its bytes, its lines' starts, its entries."""
    data = written(short())
    return data, starts_of(data), journal.parse(data).entries


def test_what_was_written_is_read_again(tmp_path):
    path = tmp_path / "journal.txt"
    with Journal(path) as book:
        for age, fact in enumerate(short()):
            book.write(fact, age / 8)
    telling = journal.read(path)
    assert telling.started == short()[0]
    assert tuple(one.fact for one in telling.entries) == short()
    assert [one.seconds for one in telling.entries] == [
        age / 8 for age in range(len(short()))
    ]
    assert telling.damage is None
    assert book.problem == "closed"


def test_a_line_is_checksum_age_and_fact(tmp_path):
    """The CRC-32 of RFC 1952, over the line and the checksum before it."""
    data = written(short()[:2])
    for text in data.splitlines(keepends=True):
        before = SEED if text.startswith(data[:8]) else int(data[:8], 16)
        assert int(text[:8], 16) == zlib.crc32(text[9:], before)
        assert msgspec.json.decode(text[9:].partition(b" ")[2])["type"]


def test_a_journal_is_never_written_over(tmp_path):
    path = tmp_path / "journal.txt"
    path.write_bytes(b"an earlier one")
    with pytest.raises(RecordError, match="cannot be made: File exists"):
        Journal(path)
    assert path.read_bytes() == b"an earlier one"


def test_cut_at_every_byte_it_is_read_up_to_there(whole):
    data, starts, entries = whole
    line = 0
    for cut in range(len(data) + 1):
        if line + 1 < len(starts) and cut >= starts[line + 1]:
            line += 1
        if line < FIRST:
            with pytest.raises(JournalError, match="not a journal of cardassay"):
                journal.parse(data[:cut])
            continue
        telling = journal.parse(data[:cut])
        assert telling.entries == entries[:line]
        where = f" (line {line + 1}, byte {starts[line] + 1})"
        said = None if cut == starts[line] else "its last line was not finished" + where
        assert telling.damage == said


@pytest.mark.parametrize("bits", [0x01, 0x80])
def test_with_each_byte_flipped_it_is_read_up_to_its_line(whole, bits):
    data, starts, entries = whole
    changed = bytearray(data)
    line = 0
    for place in range(len(data)):
        if place >= starts[line + 1]:
            line += 1
        changed[place] ^= bits
        if line < FIRST:
            with pytest.raises(JournalError):
                journal.parse(bytes(changed))
        else:
            telling = journal.parse(bytes(changed))
            assert telling.entries == entries[:line]
            assert telling.damage.endswith(
                f" (line {line + 1}, byte {starts[line] + 1})"
            )
        changed[place] ^= bits


def moved(lines, rnd):
    one, two = sorted(rnd.sample(range(1, len(lines)), 2))
    lines[one], lines[two] = lines[two], lines[one]
    return one


def doubled(lines, rnd):
    one = rnd.randrange(1, len(lines))
    lines.insert(one, lines[one])
    return one + 1


def lost(lines, rnd):
    one = rnd.randrange(1, len(lines) - 1)
    del lines[one]
    return one


def foreign(lines, rnd):
    """A line of another run's journal, at its own place there."""
    one = rnd.randrange(2, len(lines))
    other = written((started(depth="thorough"), *short()[1:]))
    lines[one] = other.splitlines(keepends=True)[one]
    return one


@pytest.mark.parametrize("change", [moved, doubled, lost, foreign])
@given(rnd=st.randoms(use_true_random=False))
def test_lines_out_of_place_end_what_is_believed(whole, change, rnd):
    data, _, entries = whole
    lines = data.splitlines(keepends=True)
    kept = change(lines, rnd)
    telling = journal.parse(b"".join(lines))
    assert telling.entries == entries[:kept]
    assert telling.damage.startswith("a line is damaged, missing or out of place (line")


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\n",
        b"\0" * 5000,
        b"\xff" * 5000,
        b"[" * 100_000 + b"\n",
        written(short()[1:]),
        written([Ended()]),
        b"%PDF-1.7\n",
    ],
)
def test_what_is_no_journal_is_called_so(data):
    with pytest.raises(JournalError, match=r"^it: not a journal of cardassay: "):
        journal.parse(data, "it")


def bound(*bodies):
    """Lines with true checksums, whatever they hold."""
    before, lines = SEED, []
    for body in bodies:
        before = zlib.crc32(body, before)
        lines.append(b"%08x " % before + body)
    return b"".join(lines)


OPENING = written([started()])[9:]


@pytest.mark.parametrize(
    "body",
    [
        b'1.0 {"type":"Invented","number":1}\n',
        b'1.0 {"type":"Taken","number":-1}\n',
        b'1.0 {"type":"Taken","number":1e400}\n',
        b'1.0 {"type":"HostMemory","available_bytes":%d}\n' % 2**80,
        b'1.0 {"type":"Refused","text":"\xff"}\n',
        b'1.0 {"type":"Refused","text":"%s"}\n' % (b"A" * 5000),
        b'nan {"type":"Taken","number":1}\n',
        b'-1.0 {"type":"Taken","number":1}\n',
        b'1e30 {"type":"Taken","number":1}\n',
        b"1.0 " + b"[" * 100_000 + b"\n",
        b"\n",
        b"1.0\n",
        b'\xff {"type":"Taken","number":1}\n',
    ],
)
def test_a_line_of_another_version_ends_it(body):
    """Its checksum is true: it is not damaged."""
    telling = journal.parse(bound(OPENING, body))
    assert len(telling.entries) == 1
    assert telling.damage == (
        f"a line was written by another version of this program (line 2, "
        f"byte {len(OPENING) + 10})"
    )


def test_sizes_have_limits(tmp_path, monkeypatch):
    monkeypatch.setattr(journal, "SIZE_LIMIT", 1000)
    with pytest.raises(JournalError, match="larger than 1000 bytes: no journal"):
        journal.parse(b"x" * 1001)
    path = tmp_path / "huge"
    with path.open("wb") as file:
        file.truncate(2**40)  # holes: it takes no room
    with pytest.raises(JournalError, match="larger than 1000 bytes"):
        journal.read(path)


def test_an_endless_line_is_not_looked_for(monkeypatch):
    monkeypatch.setattr(journal, "LINE_LIMIT", 2000)
    telling = journal.parse(bound(OPENING, b"1.0 " + b"x" * 3000 + b"\n"))
    assert telling.damage.startswith("its last line was not finished (line 2")


def test_a_file_that_cannot_be_read_is_named(tmp_path):
    for place in (tmp_path / "none", tmp_path):
        with pytest.raises(RecordError, match="cannot be read: "):
            journal.read(place)


def test_a_full_disk_is_said_once_and_what_stands_is_read(tmp_path, monkeypatch):
    """The disk takes half of a line, then nothing more."""
    path = tmp_path / "journal.txt"
    book = Journal(path)
    for fact in short()[:5]:
        book.write(fact, 1.0)
    real, asked = os.write, []

    def full(file, data):
        asked.append(len(data))
        if len(asked) > 1:
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(file, bytes(data)[: len(data) // 2])

    monkeypatch.setattr(os, "write", full)
    book.write(short()[5], 2.0)
    assert book.problem == f"{path}: cannot be written: No space left on device"
    for fact in short()[6:]:
        book.write(fact, 3.0)
        book.sync()
    assert len(asked) == 2
    monkeypatch.undo()
    book.write(short()[6], 3.0)  # it stays silent where there is room again
    book.close()
    telling = journal.read(path)
    assert tuple(one.fact for one in telling.entries) == short()[:5]
    assert telling.damage.startswith("its last line was not finished (line 6")


def test_a_line_written_in_pieces_is_whole(tmp_path, monkeypatch):
    real = os.write
    monkeypatch.setattr(os, "write", lambda file, data: real(file, bytes(data)[:7]))
    path = tmp_path / "journal.txt"
    with Journal(path) as book:
        for fact in short()[:3]:
            book.write(fact, 1.0)
    monkeypatch.undo()
    assert path.read_bytes() == bound(*_bodies(short()[:3], 1.0))


def _bodies(facts, age):
    return [b"%.3f " % age + msgspec.json.encode(one) + b"\n" for one in facts]


def test_a_disk_that_fails_to_store_is_said(tmp_path, monkeypatch):
    book = Journal(tmp_path / "journal.txt")

    def fail(_):
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(os, "fsync", fail)
    book.sync()
    assert book.problem.endswith("cannot be stored: Input/output error")
    book.close()
    book.close()


@pytest.mark.parametrize("safe", [True, False])
def test_only_a_real_cards_journal_waits_for_the_disk(tmp_path, monkeypatch, safe):
    stored = []
    monkeypatch.setattr(os, "fsync", stored.append)
    book = Journal(tmp_path / "journal.txt", safe=safe)
    made = len(stored)
    book.write(short()[0], 0.0)
    assert len(stored) == made  # a fact that announces nothing waits for none
    book.sync()
    book.close()
    assert bool(stored) == bool(made) == safe
    assert len(stored) - made == (2 if safe else 0)


@pytest.mark.parametrize(
    "fact",
    [
        Refused(text="\ud800"),
        Refused(text="\x1b[31m\n\r\0\u2028" * 100),
        Noted(text="\\u0000"),
        HostMemory(available_bytes=2**80),
        Linked(bytes_a_second=float("nan")),
        Linked(bytes_a_second=float("inf")),
        Sensed(sample=Sample(at_seconds=float("nan"), phase="\udfff")),
        PhaseBegan(name="x" * 10**6, title="y" * 10**6),
    ],
)
def test_no_value_makes_writing_fail_or_costs_what_was_written(tmp_path, fact):
    path = tmp_path / "journal.txt"
    with Journal(path) as book:
        book.write(started(), 0.0)
        book.write(fact, 1.0)
        book.write(Ended(), 2.0)
    telling = journal.read(path)
    assert telling.started == started()
    assert b"\x1b" not in path.read_bytes()


def test_a_value_that_cannot_be_written_is_said(tmp_path):
    with Journal(tmp_path / "journal.txt") as book:
        book.write(Refused(text="\ud800"), 0.0)
        assert "cannot be written" in book.problem


@given(
    st.lists(st.tuples(st.sampled_from(short()[1:]), st.floats(0, 1e6)), max_size=30)
)
def test_facts_in_any_order_come_to_a_record_or_a_named_error(pairs):
    lines, seed = [], SEED
    for fact, age in ((started(), 0.0), *pairs):
        text, seed = journal.line(fact, age, seed)
        lines.append(text)
    telling = journal.parse(b"".join(lines))
    assert telling.damage is None
    try:
        story, seconds, _ = retold(telling, pc_restarted=False)
        codec.encode(story.record(seconds, unfinished=not story.is_over))
    except RecordError:
        pass


def test_a_whole_journal_tells_what_the_run_told(whole):
    data, _, _ = whole
    story, seconds, end = retold(journal.parse(data), pc_restarted=True)
    assert end is None
    assert story.record(5.0) == story_of(short()).record(5.0)
    assert seconds == len(short()) - 1
