"""Memory sizes as people write them: binary under either name, nothing guessed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from probe.errors import UsageError
from probe.sizes import LARGEST, SMALLEST, size_bytes

GIB = 2**30


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("8GiB", 8 * GIB),
        ("8GB", 8 * GIB),
        ("8 gb", 8 * GIB),
        ("8G", 8 * GIB),
        (" 8 GiB ", 8 * GIB),
        ("1.5GiB", 3 * GIB // 2),
        ("2048 MiB", 2 * GIB),
        ("8388608K", 8 * GIB),
        ("1TiB", 1024 * GIB),
        ("8589934592", 8 * GIB),
        ("8589934592B", 8 * GIB),
        ("1MiB", SMALLEST),
    ],
)
def test_sizes(text, size):
    assert size_bytes(text, "--claim-memory") == size


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "'' is not a size; write it as 8GiB"),
        ("GiB", "'GiB' is not a size; write it as 8GiB"),
        ("8 GiB RAM", "'8 GiB RAM' is not a size; write it as 8GiB"),
        ("8,5GiB", "'8,5GiB' is not a size; write it as 8GiB"),
        ("1e9", "'1e9' is not a size; write it as 8GiB"),
        ("nan", "'nan' is not a size; write it as 8GiB"),
        ("-8GiB", "'-8GiB' is not a size; write it as 8GiB"),
        ("8PiB", "'8PiB' is not a size; write it as 8GiB"),
        ("8", "'8' has no unit and would be 8 bytes; write it as 8GiB"),
        ("8192", "'8192' has no unit and would be 8192 bytes; write it as 8GiB"),
        ("0", "'0' has no unit and would be 0 bytes; write it as 8GiB"),
        ("0.1 MiB", "'0.1 MiB' is no size that a card can have"),
        ("1024TiB", "'1024TiB' is no size that a card can have"),
        ("9" * 100, f"'{'9' * 40}' is not a size; write it as 8GiB"),
    ],
)
def test_what_is_no_size(text, said):
    with pytest.raises(UsageError) as caught:
        size_bytes(text, "--memory-limit")
    assert str(caught.value) == f"--memory-limit: {said}"


@given(st.integers(SMALLEST, LARGEST - 1))
def test_bytes_are_taken_as_they_are(size):
    assert size_bytes(str(size), "x") == size


@given(st.text(max_size=60))
def test_any_text_is_a_size_or_refused(text):
    try:
        size = size_bytes(text, "x")
    except UsageError as error:
        said = str(error)
        size, lines = SMALLEST, said.splitlines()
        assert len(lines) == 1
    assert SMALLEST <= size < LARGEST
