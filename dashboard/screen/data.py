"""What pages read. The only caller of ``ingest.store`` for pages; nothing is computed that a run holds.

A run never changes once stored, and a table at a version never changes either: both are kept in memory under
the store's path and that number. Only whether there is something new is asked each time.
"""

from datetime import UTC, date, datetime
from pathlib import Path

import pandas as pd
import streamlit as st

from dashboard.screen.served import path
from dashboard.services.after_add import Noticed, alarms_of, notice
from dashboard.services.states import with_careful_date, with_state
from dashboard.words.gauge_words import gauges_of
from ingest.errors import StoreProblem
from ingest.look.question import Question
from ingest.store import Store, mileage
from ingest.verdicts.corrections import held_rows, open_questions
from ingest.verdicts.remeasure import unexpected as unexpected_of
from ingest.verdicts.report import AddReport


def store() -> Store:
    """The store, opened by each of its calls and closed again."""
    return Store(path())


def exists() -> bool:
    """Whether there is a store at all."""
    return path().exists()


def stamp_of_store() -> tuple[str, int, int, int]:
    """Changes whenever the file does: who it is, when and how far it was written."""
    found = path().stat()
    log = path().with_name(path().name + ".wal")
    return str(path()), found.st_ino, found.st_mtime_ns, log.stat().st_mtime_ns if log.exists() else 0


def version() -> int:
    """The data version of the store."""
    return _version(stamp_of_store())


def runs(kind: str) -> pd.DataFrame:
    """Stored runs of a kind, newest first; forecasts by their as-of day, then by when made."""
    return _runs(stamp_of_store(), kind)


def decisions(kind: str) -> pd.DataFrame:
    """What was decided about runs of a kind, newest first."""
    return _decisions(stamp_of_store(), kind)


def table(name: str, at_version: int | None = None) -> pd.DataFrame:
    """A table as it was at a data version, by default now."""
    return _table(identity(), name, version() if at_version is None else at_version)


def held_waiting() -> pd.DataFrame:
    """Rows held back about which nothing has been decided yet."""
    return _held(stamp_of_store())


def questions_of_waiting() -> tuple[Question, ...]:
    """Questions for whose answer rows wait."""
    return _questions(stamp_of_store(), datetime.now(UTC).date())


def gauges(at_version: int) -> list[dict[str, str]]:
    """Gauges on record at a data version, as :func:`dashboard.words.gauge_words.gauges_of` tells them."""
    return _gauges(identity(), at_version, datetime.now(UTC).date())


def unexpected(point: str = "") -> pd.DataFrame:
    """Readings far from what the forecast before them expected, of one wear point or of all.

    Columns as :data:`ingest.verdicts.remeasure.COLUMNS`.
    """
    return _unexpected(stamp_of_store(), point)


def noticed(report: AddReport) -> Noticed | None:
    """What the readings of a batch just added say."""
    return _noticed(stamp_of_store(), report.batch, report)


def frame(run_id: str, name: str) -> pd.DataFrame:
    """A frame of a run, whole."""
    return _frame(identity(), run_id, name)


def frame_if_any(run_id: str, name: str) -> pd.DataFrame:
    """As :func:`frame`; empty where the run was made before there was such a frame."""
    try:
        return _frame(identity(), run_id, name)
    except StoreProblem:
        return pd.DataFrame()


def alarms(run_id: str) -> pd.DataFrame:
    """Alarms of a forecast; empty where it was made before there were alarms."""
    return _alarms(identity(), run_id)


def frame_of_point(run_id: str, name: str, point: str) -> pd.DataFrame:
    """The rows of one wear point in a frame of a run."""
    return _frame_of_point(identity(), run_id, name, point)


def forecast(run_id: str) -> pd.DataFrame:
    """The forecast of a run with the careful date and the state of each wear point."""
    return _forecast(identity(), run_id)


def picture(name: str) -> bytes:
    """Content of a picture by its name, which never changes."""
    return _picture(identity(), name)


def readings_of_point(point: str) -> pd.DataFrame:
    """The readings of a wear point that hold now, with the row and the batch of each."""
    return _readings_of_point(identity(), point, version())


def work_of_point(point: str, at_version: int) -> pd.DataFrame:
    """What the shop did to a wear point, with the odometer of that day."""
    placed = _work_placed(identity(), at_version)
    return placed[placed["point"] == point]


def run_version(run_id: str) -> int:
    """The data version that a forecast was made from."""
    found = runs("forecast")
    return int(found.loc[found["run_id"] == run_id, "data_version"].iloc[0])


def identity() -> tuple[str, int]:
    """The store's path and file: a store put in place of another is another."""
    return str(path()), path().stat().st_ino


@st.cache_data(show_spinner=False, max_entries=64)
def _version(stamp: tuple[str, int, int, int]) -> int:
    return Store(Path(stamp[0])).version()


@st.cache_resource(show_spinner="Reading what waits …", max_entries=4)  # its answers are functions
def _questions(stamp: tuple[str, int, int, int], today: date) -> tuple[Question, ...]:
    return open_questions(Store(Path(stamp[0])), today)


@st.cache_data(show_spinner=False, max_entries=64)
def _runs(stamp: tuple[str, int, int, int], kind: str) -> pd.DataFrame:
    runs = Store(Path(stamp[0])).runs(kind)
    if kind != "forecast" or runs.empty:
        return runs
    # A look back in time, made today, must not become what everybody sees: the latest day comes first.
    day = pd.to_datetime(runs["as_of"], errors="coerce", format="ISO8601")
    order = runs.assign(day=day).sort_values(["day", "made_at"], ascending=False, na_position="last")
    return order.drop(columns="day").reset_index(drop=True)


@st.cache_data(show_spinner=False, max_entries=4)
def _held(stamp: tuple[str, int, int, int]) -> pd.DataFrame:
    return held_rows(Store(Path(stamp[0])))


@st.cache_data(show_spinner=False, max_entries=4)
def _gauges(store_identity: tuple[str, int], version: int, today: date) -> list[dict[str, str]]:
    kept = Store(Path(store_identity[0]))
    return gauges_of(kept.read("gauges", version), kept.read_blind(version), today)


@st.cache_data(show_spinner=False, max_entries=64)
def _unexpected(stamp: tuple[str, int, int, int], point: str) -> pd.DataFrame:
    return unexpected_of(Store(Path(stamp[0])), points=[point] if point else None)


@st.cache_data(show_spinner=False, max_entries=8)
def _noticed(stamp: tuple[str, int, int, int], batch: int | None, _report: AddReport) -> Noticed | None:  # noqa: ARG001
    return notice(Store(Path(stamp[0])), _report)


@st.cache_data(show_spinner=False, max_entries=24)
def _picture(where: tuple[str, int], name: str) -> bytes:
    return Store(Path(where[0])).picture(name)


@st.cache_data(show_spinner=False, max_entries=8)
def _decisions(stamp: tuple[str, int, int, int], kind: str) -> pd.DataFrame:
    return Store(Path(stamp[0])).decisions(kind)


@st.cache_data(show_spinner=False, max_entries=64)
def _table(identity: tuple[str, int], name: str, at_version: int) -> pd.DataFrame:
    return Store(Path(identity[0])).read(name, version=at_version)


@st.cache_data(show_spinner=False, max_entries=32)
def _frame(identity: tuple[str, int], run_id: str, name: str) -> pd.DataFrame:
    return Store(Path(identity[0])).read_run(run_id, name)


@st.cache_data(show_spinner=False, max_entries=32)
def _alarms(identity: tuple[str, int], run_id: str) -> pd.DataFrame:
    return alarms_of(Store(Path(identity[0])), run_id)


@st.cache_data(show_spinner=False, max_entries=256)
def _frame_of_point(identity: tuple[str, int], run_id: str, name: str, point: str) -> pd.DataFrame:
    return Store(Path(identity[0])).read_run(run_id, name, point=point)


@st.cache_data(show_spinner=False, max_entries=64)
def _readings_of_point(identity: tuple[str, int], point: str, at_version: int) -> pd.DataFrame:
    return Store(Path(identity[0])).read_of_points([point], "readings", version=at_version)["readings"]


@st.cache_data(show_spinner=False, max_entries=16)
def _forecast(identity: tuple[str, int], run_id: str) -> pd.DataFrame:
    made = Store(Path(identity[0])).read_run(run_id, "forecast")
    at_version = run_version(run_id)
    usage, mileage = table("usage", at_version), table("mileage", at_version)
    return with_state(with_careful_date(made, usage, mileage), table("wear_points", at_version))


@st.cache_data(show_spinner=False, max_entries=8)
def _work_placed(identity: tuple[str, int], at_version: int) -> pd.DataFrame:  # noqa: ARG001
    work = table("work", at_version).merge(
        table("wear_points", at_version)[["point", "vehicle", "per_base"]], on="point", how="left"
    )
    placed = mileage.place(work.assign(odometer_read=float("nan")), table("mileage", at_version))
    values = {name: work[name] * work["per_base"] for name in ("value_before", "value_after")}
    return work.assign(odometer=placed["odometer"], **values)
