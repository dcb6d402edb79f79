"""A sheet as its writer sees it: cells, merged areas, what is hidden; and the file that it is written to."""

import csv
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path

import xlsxwriter
from messy.notations import Cell


@dataclass
class Grid:
    """Cells by row and column, both from 0."""

    name: str = "Sheet1"
    cells: dict[tuple[int, int], Cell] = field(default_factory=dict)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    hidden: bool = False

    @property
    def n_rows(self) -> int:
        """Rows down to the last filled one."""
        return max((row for row, _ in self.cells), default=-1) + 1

    @property
    def n_columns(self) -> int:
        """Columns up to the last filled one."""
        return max((column for _, column in self.cells), default=-1) + 1

    def put(self, row: int, column: int, content: object, **how: object) -> None:
        """Fill a cell."""
        cell = content if isinstance(content, Cell) else Cell(content, **how)
        if cell.content not in (None, ""):
            self.cells[row, column] = cell

    def down(self, by: int) -> None:
        """Move all cells down, so that lines stand free above them."""
        self.cells = {(row + by, column): cell for (row, column), cell in self.cells.items()}
        self.merged = [(a + by, b, c + by, d) for a, b, c, d in self.merged]
        self.hidden_rows = {row + by for row in self.hidden_rows}

    def row(self, row: int, contents: list[object]) -> None:
        """Fill a row from its first column on."""
        for column, content in enumerate(contents):
            self.put(row, column, content)


def write_workbook(grids: list[Grid], path: Path) -> None:
    """The sheets as an XLSX file."""
    with xlsxwriter.Workbook(str(path)) as book:
        formats: dict[tuple[str, bool], object] = {}
        struck = book.add_format({"font_strikeout": True})
        for grid in grids:
            sheet = book.add_worksheet(grid.name)
            for first_row, first, last_row, last in grid.merged:
                sheet.merge_range(first_row, first, last_row, last, "")
            for (row, column), cell in grid.cells.items():
                key = (cell.shown_as, cell.struck)
                if key not in formats:
                    formats[key] = book.add_format({"num_format": cell.shown_as or "General"})
                    if cell.struck:
                        formats[key].set_font_strikeout()
                _write(sheet, row, column, cell, (formats[key], struck))
            for row in grid.hidden_rows:
                sheet.set_row(row, None, None, {"hidden": True})
            for column in grid.hidden_columns:
                sheet.set_column(column, column, None, None, {"hidden": True})
            if grid.hidden:
                sheet.hide()


def _write(sheet: object, row: int, column: int, cell: Cell, shapes: tuple[object, object]) -> None:
    content, (shape, struck) = cell.content, shapes
    if isinstance(content, date):
        sheet.write_datetime(row, column, datetime(content.year, content.month, content.day), shape)
    elif cell.struck_before:
        sheet.write_rich_string(row, column, struck, cell.struck_before, f" {content}")
    elif isinstance(content, str) and content.startswith("="):
        formula, _, result = content.partition("|")
        sheet.write_formula(row, column, formula, shape, float(result))
    elif isinstance(content, str):
        sheet.write_string(row, column, content, shape)
    else:
        sheet.write_number(row, column, content, shape)


def write_text(grid: Grid, path: Path, delimiter: str) -> None:
    """The sheet as a text file, as a spreadsheet saves it."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, delimiter=delimiter)
        for row in range(grid.n_rows):
            cells = [grid.cells.get((row, column)) for column in range(grid.n_columns)]
            writer.writerow([_text(cell) for cell in cells])


def _text(cell: Cell | None) -> str:
    if cell is None:
        return ""
    content = cell.content
    if isinstance(content, date):
        return content.isoformat()
    if isinstance(content, str) and content.startswith("="):
        return content.partition("|")[2]
    if isinstance(content, float):
        return f"{content:.10g}"
    return str(content)
