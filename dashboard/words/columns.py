"""Rows of text set out in columns."""

from collections.abc import Collection, Sequence


def in_columns(rows: Sequence[Sequence[str]], left: Collection[int] = (0,)) -> list[str]:
    """Lines of equal columns, two blanks between them; the columns ``left`` begin at the left, others end
    at the right."""
    widths = [max(map(len, cells)) for cells in zip(*rows, strict=True)]
    return [
        "  ".join(
            cell.ljust(width) if place in left else cell.rjust(width)
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
