"""The table, read once for all tests of the reference."""

import pytest

from reference.table import load


@pytest.fixture(scope="session")
def table():
    return load()
