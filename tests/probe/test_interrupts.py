"""Ctrl-C while a run is stored or heard: counted, then heeded, never lost."""

import signal
import threading

import pytest

from probe.survival.interrupts import MOST_COUNTED, counted, heeded


def press():
    signal.raise_signal(signal.SIGINT)


def test_it_is_counted_and_raises_nothing():
    with counted() as stops:
        assert stops() == 0
        press()
        press()
        assert stops() == 2
    with pytest.raises(KeyboardInterrupt):
        press()


def test_within_another_the_count_goes_on():
    with counted() as outer:
        press()
        with counted() as stops:
            assert stops() == 1
            press()
        press()
        assert outer() == 3
    with counted() as stops:
        assert stops() == 0


def test_what_does_not_end_can_be_left():
    with counted():
        for _ in range(MOST_COUNTED):
            press()
        with pytest.raises(KeyboardInterrupt):
            press()


def test_a_part_may_be_cut_short():
    with counted() as stops:
        with pytest.raises(KeyboardInterrupt), heeded():
            press()
        press()
        assert stops() == 1
        with pytest.raises(KeyboardInterrupt), heeded():
            pytest.fail("begun although it was to be left")


def test_heeded_alone_changes_nothing():
    with pytest.raises(KeyboardInterrupt), heeded():
        press()


def test_who_ignores_it_goes_on_ignoring_it():
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        with counted() as stops:
            press()
            assert stops() == 0
    finally:
        signal.signal(signal.SIGINT, before)


def test_another_thread_counts_nothing():
    seen = []

    def work():
        with counted() as stops:
            seen.append(stops())

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert seen == [0]
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
