"""How long a million cells take to read: ``pytest tests/benchmarks --benchmark-only -k reading``."""

import numpy as np
import pandas as pd

from ingest.layouts.apply import read_tables
from ingest.notation.dates import parse_dates
from ingest.notation.values import parse_values

N = 1_000_000


def fractions(rng):
    """Sizes in sixty-fourths, as a shop writes them."""
    whole, part = rng.integers(0, 60, N), rng.integers(1, 64, N)
    return pd.Series([f"{w} {p}/64" for w, p in zip(whole, part, strict=True)], dtype="str")


def test_fractions(benchmark):
    cells = fractions(np.random.default_rng(1))
    out = benchmark.pedantic(parse_values, (cells, "in"), rounds=3)
    assert (out["problem"] == "").all()


def test_decimals_that_all_differ(benchmark):
    cells = pd.Series(np.random.default_rng(1).permutation(N) / N, dtype="float64").astype("str")
    out = benchmark.pedantic(parse_values, (cells, "in"), rounds=3)
    assert (out["problem"] == "").all()


def test_dates(benchmark):
    days = np.datetime64("1980-01-01") + np.random.default_rng(1).integers(0, 16_000, N)
    cells = pd.Series(np.datetime_as_string(days), dtype="str")
    out = benchmark.pedantic(parse_dates, (cells,), rounds=3)
    assert (out["problem"] == "").all()


def test_a_file_of_a_million_rows(benchmark, tmp_path):
    rng = np.random.default_rng(1)
    path = tmp_path / "readings.csv"
    frame = pd.DataFrame(
        {"point": rng.integers(0, 500, N).astype(str), "date": "2001-05-03", "value": fractions(rng)}
    )
    frame.assign(unit="in", odometer=np.arange(N), gauge="rule", observer="A.V.", note="").to_csv(
        path, index=False
    )
    (table,) = benchmark.pedantic(read_tables, (path,), rounds=2)
    assert len(table.rows) == N
