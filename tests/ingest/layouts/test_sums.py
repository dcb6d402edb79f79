"""Rows that average or add up others are left out of a proposed layout, and break no column of numbers."""

import pytest

from ingest.layouts.clues import look_at, summary_rows
from ingest.layouts.pointed import proposed, result_of
from ingest.sheets.readers import read_cells

MERGED = """Lok Erle;;;;
Datum: 2024-03-01;;;;
;Reifendicke (mm);;Spurkranzdicke (mm);
Treibrad;links;rechts;links;rechts
1;62,5;62,1;30,2;30,1
2;61,9;61,4;30,0;29,9
3;61,2;61,0;29,8;29,6
"""


def cells_of(tmp_path, text):
    (tmp_path / "sheet.csv").write_text(text)
    return read_cells(tmp_path / "sheet.csv")[0]


@pytest.mark.parametrize("word", ["Mittel", "Mittelwert", "Durchschnitt", "Moyenne", "Średnia", "Mean"])
def test_wheels_are_counted_though_a_row_of_means_stands_below_them(word, tmp_path):
    cells = cells_of(tmp_path, MERGED + f"{word};61,87;61,5;30,0;29,87\n")
    table = result_of(cells, proposed(cells, several=False)).table
    assert len(table.rows) == 12
    assert set(table.rows["position"]) == {
        f"{wheel} {side}" for wheel in "123" for side in ("links", "rechts")
    }
    assert "61,87" not in set(table.rows["value"])


def test_a_line_of_measurements_that_begins_alike_stays(tmp_path):
    text = "Stelle;Datum;Messwert (mm)\nMittelachse links;2024-03-01;62,5\nMittel;;62,4\n"
    assert summary_rows(look_at(cells_of(tmp_path, text))) == ["Mittel"]
    text = text.replace("Mittelachse", "Treibachse")
    assert summary_rows(look_at(cells_of(tmp_path, text))) == ["Mittel*"]


def test_a_word_that_is_a_dimension_too_leaves_nothing_out(tmp_path):
    """Czech *průměr* is an average, and a diameter."""
    text = "Rozměr;Datum;Hodnota (mm)\nPrůměr;2024-03-01;1262,5\nTloušťka;2024-03-01;62,4\n"
    assert summary_rows(look_at(cells_of(tmp_path, text))) == []
