"""Published tables, read from the files beside the tests; each file names its source."""

from pathlib import Path

import pandas as pd
import pytest

DATA = Path(__file__).parent / "data"


@pytest.fixture(scope="session")
def published():
    """Read a published table by its file name without the ending."""

    def read(name):
        return pd.read_csv(DATA / f"{name}.csv", comment="#")

    return read
