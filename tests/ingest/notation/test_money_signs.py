"""The currency that a sign in the cell names."""

import pytest

from ingest.store import Store
from ingest.verdicts.add import add_files


@pytest.mark.parametrize(
    ("cell", "stated", "kept"),
    [
        ("£500", "", "GBP"),
        ("€ 30", "", "EUR"),
        ("$400", "", ""),
        ("£500", "GBP", "GBP"),
        ("500", "USD", "USD"),
    ],
)
def test_a_sign_that_names_one_currency_is_kept(tmp_path, cell, stated, kept):
    (tmp_path / "costs.csv").write_text(f"component,action,cost,currency\ntire,cut,{cell},{stated}\n")
    store = Store(tmp_path / "store.duckdb")
    add_files(store, [tmp_path / "costs.csv"])
    assert store.read("costs")["currency"].tolist() == [kept]


def test_a_sign_against_the_column_is_held_back(tmp_path):
    (tmp_path / "costs.csv").write_text("component,action,cost,currency\ntire,cut,£30,USD\n")
    report = add_files(Store(tmp_path / "store.duckdb"), [tmp_path / "costs.csv"])
    assert "its sign says GBP, the column currency USD" in str(report.verdicts.to_dict("list"))
