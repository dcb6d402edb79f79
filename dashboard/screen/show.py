"""What every page shows in the same way: text from files, tables and pictures with their downloads."""

import csv
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from html import escape
from io import BytesIO, StringIO
from typing import Any, Literal

import altair as alt
import pandas as pd
import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from ingest.errors import UserError
from ingest.machine import in_plain_words
from ingest.neutral import visible, without_formulas
from ingest.writing import TEXTS_STAY

MANY_COLUMNS = 4
"""Columns beyond which figures may break into lines on a telephone, so that none is cut off."""
NONE = "–"
"""Stands in a table where nothing is known."""
# Addresses and short codes become links, emoji and icons after the Markdown was read, so a backslash does not
# stop them; a word joiner (U+2060, no width) within them does.
_MADE_LIVE = re.compile(r"(?:https?:)(?=//)|www(?=\.)|@|:(?=\w)", re.IGNORECASE)


def plain(text: object) -> str:
    """Text from a file or a person, for places that read Markdown: it stays the text that it is."""
    line = _MADE_LIVE.sub(lambda found: found.group() + "\u2060", visible(str(text)).replace("\n", " "))
    return re.sub(r"([!-/:-@\[-`{-~])", r"\\\1", line)


@contextmanager
def problems() -> Iterator[None]:
    """A problem of the data or of the machine within the block is shown in plain words, not the rest."""
    try:
        yield
    except UserError as error:
        st.error(plain(error))
    except (OSError, MemoryError) as error:
        st.error(plain(in_plain_words(error)))


def table(
    frame: pd.DataFrame,
    name: str,
    *,
    words: Mapping[str, str],
    alt_text: str,
    pick: str = "",
    height: int | Literal["auto"] = "auto",
    formats: Mapping[str, Any] | None = None,
) -> int | None:
    """A table with plain column names and its download as CSV and XLSX; the row picked in it.

    Parameters
    ----------
    frame : what to show; dates and numbers as such.
    name : stem of the files.
    words : heading of each column; columns that are not named are left out.
    alt_text : read out for the table.
    pick : key under which one row can be picked; empty if none can.
    formats : column settings by heading, where a plain one does not do.
    """
    shown = frame[list(words)].rename(columns=dict(words))
    days: dict[str, Any] = {
        str(column): st.column_config.DateColumn(format="D MMM YYYY")
        for column in shown
        if pd.api.types.is_datetime64_any_dtype(shown[column])
    }
    columns: dict[str, Any] = {**days, **(formats or {})}
    if pick:
        st.dataframe(
            shown,
            hide_index=True,
            height=height,
            alt=alt_text,
            column_config=columns,
            placeholder=NONE,
            key=pick,
            on_select="rerun",
            selection_mode="single-row",
        )
    else:
        st.dataframe(
            shown, hide_index=True, height=height, alt=alt_text, column_config=columns, placeholder=NONE
        )
    downloads(shown, name)
    rows = st.session_state[pick]["selection"]["rows"] if pick else []
    return int(rows[0]) if rows and rows[0] < len(shown) else None


def fields(number: int) -> list[DeltaGenerator]:
    """Places for fields: two in a row, on a telephone one under the other in the same order."""
    return [cell for _ in range((number + 1) // 2) for cell in st.columns(2)]


def words_table(
    head: Sequence[str], rows: Sequence[Sequence[str]], *, alt_text: str, total: bool = False, words: int = 1
) -> None:
    """A short table of texts that reads well on paper and telephone.

    The first ``words`` columns hold words, the others figures; ``total`` marks the last row. With many
    columns each row is a list of its own on a telephone, the heading beside each cell.
    """
    texts = [escape(visible(name)) for name in head]

    def cells(tag: str, row: Sequence[str]) -> str:
        return "".join(
            f'<{tag} class="{"words" if place < words else "figures"}" data-head="{texts[place]}">'
            f"{escape(visible(str(cell)))}</{tag}>"
            for place, cell in enumerate(row)
        )

    body = "".join(
        f'<tr class="{"total" if total and place == len(rows) - 1 else "row"}">{cells("td", row)}</tr>'
        for place, row in enumerate(rows)
    )
    many = " many" if len(head) > MANY_COLUMNS else ""
    # A region that may scroll sideways must be reachable by keyboard.
    st.html(
        f'<div class="words-table{many}" tabindex="0" role="region" aria-label="{escape(alt_text)}"><table>'
        f"<thead><tr>{cells('th', head)}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def downloads(frame: pd.DataFrame, name: str) -> None:
    """The buttons under a table."""
    with st.container(horizontal=True, gap="small"):
        download("CSV", lambda: csv_bytes(frame), f"{name}.csv", "text/csv")
        download("XLSX", lambda: xlsx_bytes(frame), f"{name}.xlsx", XLSX)


XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def chart(picture: alt.Chart | alt.LayerChart, name: str, *, alt_text: str) -> None:
    """A picture with its download as SVG and PNG."""
    st.altair_chart(picture, width="stretch", theme=None, alt=alt_text)
    with st.container(horizontal=True, gap="small"):
        download("SVG", lambda: picture_bytes(picture, "svg"), f"{name}.svg", "image/svg+xml")
        download("PNG", lambda: picture_bytes(picture, "png"), f"{name}.png", "image/png")


def drawn(draw: Callable[..., alt.LayerChart], *of: object) -> alt.LayerChart:
    """What a function of ours draws of frames, drawn once for equal frames; not to be changed."""
    return _drawn(draw, f"{draw.__module__}.{draw.__qualname__}", of)


@st.cache_resource(show_spinner=False, max_entries=128)
def _drawn(_draw: Callable[..., alt.LayerChart], name: str, of: tuple[object, ...]) -> alt.LayerChart:  # noqa: ARG001
    return _draw(*of)


def download(word: str, data: Callable[[], bytes], file: str, mime: str) -> None:
    """One small button; what it gives is made when it is asked for."""
    st.download_button(
        word,
        data,
        file,
        mime,
        key=f"get-{file}",
        on_click="ignore",
        type="tertiary",
        icon=":material/download:",
    )


def csv_bytes(frame: pd.DataFrame) -> bytes:
    """CSV that a spreadsheet opens without running anything: cells that start a formula are quoted."""
    # Every text is quoted: a lone carriage return in one would end the row for some readers.
    return _harmless(frame).to_csv(index=False, quoting=csv.QUOTE_NONNUMERIC).encode("utf-8-sig")


def xlsx_bytes(frame: pd.DataFrame) -> bytes:
    """XLSX whose texts stay texts."""
    out = BytesIO()
    with pd.ExcelWriter(out, engine="xlsxwriter", engine_kwargs={"options": TEXTS_STAY}) as writer:
        _harmless(frame).to_excel(writer, index=False, sheet_name="milesleft")
    return out.getvalue()


def picture_bytes(picture: alt.Chart | alt.LayerChart, kind: Literal["svg", "png"]) -> bytes:
    """The picture as a file, 900 points wide."""
    shown = picture.properties(width=900, background="#ffffff")
    if kind == "svg":
        text = StringIO()
        shown.save(text, format="svg")
        return text.getvalue().encode()
    out = BytesIO()
    shown.save(out, format="png")
    return out.getvalue()


def _harmless(frame: pd.DataFrame) -> pd.DataFrame:
    """Dates as plain days, and no text that starts a formula."""
    out = frame.copy()
    for column in frame:
        if pd.api.types.is_datetime64_any_dtype(out[column]):
            out[column] = out[column].dt.strftime("%Y-%m-%d").fillna("")
    return without_formulas(out)
