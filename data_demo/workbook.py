"""The smallest XLSX workbook that every spreadsheet opens, the same bytes on every machine.

A library writes its version and the day into the file and packs it with whatever zlib it finds; the demo
files are to be rewritten byte for byte.
"""

import zipfile
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from xml.sax.saxutils import escape

Cell = str | float | int | date | None

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml."
_STYLES = (
    f'<styleSheet xmlns="{_MAIN}"><fonts count="1"><font/></fonts>'
    '<fills count="1"><fill><patternFill/></fill></fills><borders count="1"><border/></borders>'
    '<cellStyleXfs count="1"><xf/></cellStyleXfs>'
    '<cellXfs count="2"><xf/><xf numFmtId="14" applyNumberFormat="1"/></cellXfs>'
    '<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles></styleSheet>'
)
_SERIAL_ZERO = date(1899, 12, 30)  # day 0 of the 1900 calendar of spreadsheets (ECMA-376 Part 1, 18.17.4.1)


def write_workbook(path: Path, sheets: dict[str, Sequence[Sequence[Cell]]]) -> None:
    """Write rows of cells, one sheet an entry; dates become date cells, None stays empty."""
    names = list(sheets)
    numbered = range(1, len(names) + 1)
    parts = {
        "[Content_Types].xml": f'<Types xmlns="{_PACKAGE}/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{_TYPE}sheet.main+xml"/>'
        f'<Override PartName="/xl/styles.xml" ContentType="{_TYPE}styles+xml"/>'
        + "".join(
            f'<Override PartName="/xl/worksheets/sheet{i}.xml" ContentType="{_TYPE}worksheet+xml"/>'
            for i in numbered
        )
        + "</Types>",
        "_rels/.rels": f'<Relationships xmlns="{_PACKAGE}/relationships">'
        f'<Relationship Id="rId1" Type="{_OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}"><sheets>'
        + "".join(f'<sheet name="{escape(names[i - 1])}" sheetId="{i}" r:id="rId{i}"/>' for i in numbered)
        + "</sheets></workbook>",
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{_PACKAGE}/relationships">'
        + "".join(
            f'<Relationship Id="rId{i}" Type="{_OFFICE}/worksheet" Target="worksheets/sheet{i}.xml"/>'
            for i in numbered
        )
        + f'<Relationship Id="rId{len(names) + 1}" Type="{_OFFICE}/styles" Target="styles.xml"/>'
        "</Relationships>",
        "xl/styles.xml": _STYLES,
    }
    for i in numbered:
        parts[f"xl/worksheets/sheet{i}.xml"] = _sheet(sheets[names[i - 1]])
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as archive:
        for name, text in parts.items():
            head = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
            entry = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
            entry.create_system = 3  # the default depends on the machine
            archive.writestr(entry, head + text)


def _sheet(rows: Sequence[Sequence[Cell]]) -> str:
    body = "".join(
        f'<row r="{r}">' + "".join(_cell(cell, c, r) for c, cell in enumerate(row)) + "</row>"
        for r, row in enumerate(rows, start=1)
    )
    return f'<worksheet xmlns="{_MAIN}"><sheetData>{body}</sheetData></worksheet>'


def _cell(cell: Cell, column: int, row: int) -> str:
    if cell is None or cell == "":
        return ""
    where = f'r="{chr(65 + column)}{row}"'
    if isinstance(cell, date):
        return f'<c {where} s="1"><v>{(cell - _SERIAL_ZERO).days}</v></c>'
    if isinstance(cell, int | float):
        return f"<c {where}><v>{cell!r}</v></c>"
    return f'<c {where} t="inlineStr"><is><t xml:space="preserve">{escape(cell)}</t></is></c>'
