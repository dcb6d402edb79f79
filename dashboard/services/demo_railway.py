"""The demo railway from its sheets to everything that the pages show: forecasts, plan, track record, case."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from time import perf_counter

import pandas as pd

from dashboard.services.forecasting import run_forecast
from dashboard.services.invented import WHO
from dashboard.services.plan_material import PlanChoices
from dashboard.services.planning import plan_and_store
from dashboard.services.scoring import run_score
from ingest.store import Store
from ingest.verdicts.add import add_files
from ingest.verdicts.report import AddReport

PLAN_GAP = 0.03
"""How far the demo's plan may be from the best, so that a first visit does not wait long."""

AS_FOUND = 3
"""Openings whose findings the demo holds against the forecast of the day before; ``milesleft score`` takes
five. Each is a forecast of its own."""

Say = Callable[[str], None]


@dataclass(frozen=True)
class Visit:
    """What the demo did: a report for each batch, the forecast run, and how long each step took
    that was not done before. [s]"""

    reports: tuple[AddReport, ...]
    run: str
    seconds: dict[str, float]

    def count(self, verdict: str) -> int:
        """Rows with a verdict, over all batches."""
        return sum(report.count(verdict) for report in self.reports)

    @property
    def rows(self) -> int:
        """Rows handed in."""
        return sum(len(report.verdicts) for report in self.reports)

    @property
    def sheets(self) -> int:
        """Sheets handed in."""
        return sum(len(report.files) for report in self.reports)


def demo_sheets() -> Path:
    """Folder of the demo railway's record, as it would be handed to ``milesleft add``."""
    return Path(str(files("data_demo"))) / "railway"


def winter_sheets() -> Path:
    """Folder of what was handed in after the record: one morning's readings in the winter shed."""
    return Path(str(files("data_demo"))) / "winter"


def fill(store: Store, say: Say, keep_case: Callable[[Store], str]) -> Visit:
    """Take the demo railway in, in two batches with a forecast after each, and work out all that pages show.

    What the store holds already, made from the same data, is not made again.

    Parameters
    ----------
    say : told in words what is being done before each step.
    keep_case : keeps the brief of the newest forecast and plan; its run.
    """
    clock = _Clock(say)
    with clock("record", "Taking in 22 seasons of sheets ..."):
        record = add_files(store, [demo_sheets()], who=WHO)
    if store.runs("forecast").empty:
        with clock("before", "Forecasting from the record ..."):
            run_forecast(store)
    with clock("winter", "Taking in this winter's first readings ..."):
        winter = add_files(store, [winter_sheets()], who=WHO)
    for kind, words, make in (
        ("forecast", "Forecasting again with them ...", run_forecast),
        ("score", "Forecasting from past days, to see how good that was ...", _score),
        ("plan", "Planning the winters of both engines ...", _plan),
        ("case", "Writing the brief for the money ...", keep_case),
    ):
        if _newest(store, kind) is None:
            with clock(kind, words):
                make(store)
    run = _newest(store, "forecast")
    assert run is not None  # made just now, or found
    return Visit((record, winter), run, clock.seconds)


def _score(store: Store) -> str:
    return run_score(store, slow=False, openings=AS_FOUND)


def _plan(store: Store) -> str:
    return plan_and_store(store, PlanChoices(gap=PLAN_GAP), name="the demo's plan")[0]


def _newest(store: Store, kind: str) -> str | None:
    """The newest run of a kind, if it was made from the data as they are."""
    runs = store.runs(kind)
    if runs.empty or int(pd.to_numeric(runs["data_version"]).iloc[0]) != store.version():
        return None
    return str(runs["run_id"].iloc[0])


class _Clock:
    """Says each step and keeps how long it took."""

    def __init__(self, say: Say) -> None:
        self._say = say
        self.seconds: dict[str, float] = {}

    @contextmanager
    def __call__(self, step: str, words: str) -> Iterator[None]:
        self._say(words)
        began = perf_counter()
        yield
        self.seconds[step] = perf_counter() - began
