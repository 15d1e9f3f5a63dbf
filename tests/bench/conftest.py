"""The counterfeit layer, built once for each test process."""

from pathlib import Path

import counterfeit
import pytest


@pytest.fixture(scope="session")
def layer(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return counterfeit.build(tmp_path_factory.mktemp("layer"))
