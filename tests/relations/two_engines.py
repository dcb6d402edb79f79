"""Small railways of two engines, drawn from a seed; and all that is said of their money."""

import json
import re
from dataclasses import dataclass
from html import unescape
from pathlib import Path

import numpy as np
import pandas as pd
from click.testing import CliRunner
from streamlit.testing.v1 import AppTest

from dashboard.cli import main
from dashboard.papers.plan_assumptions import plan_assumptions
from dashboard.services.plan_state import states
from ingest.store import Store
from ingest.verdicts.add import add_files

APP = str(Path(__file__).parents[2] / "dashboard" / "app.py")
ENGINES = ("Alder", "Birch")
PARTS = (
    ("driver tire", "tread hollow", 0.0, 0.3125, "wheels_out", 4),
    ("rod bushing", "clearance", 0.01, 0.09, "rods_down", 3),
    ("spring hanger pin", "clearance", 0.01, 0.2, "in_place", 3),
)
PLAN = ("plan", "--gap", "0.05", "--years", "4")


def sheets(folder: Path, seed: int) -> Path:
    """The files of one drawn railway."""
    folder.mkdir(parents=True)
    rng = np.random.default_rng(seed)
    points, readings, mileage, usage = [], [], [], []
    for engine in ENGINES:
        days = pd.date_range("2019-01-31", "2026-10-31", freq="ME")
        run = np.where(days.month.isin(range(5, 11)), rng.uniform(300, 700), 0.0)
        odometer = 10_000 + np.cumsum(run)
        mileage += [
            (engine, f"{d:%Y-%m-%d}", f"{o:.0f}", 6 * (r > 0))
            for d, o, r in zip(days, odometer, run, strict=True)
        ]
        for component, quantity, new, limit, access, count in PARTS:
            life = rng.uniform(14_000, 30_000)
            for place in range(count):
                name = f"{engine}-{component.replace(' ', '-')}-{place + 1}"
                points.append(
                    (name, engine, component, f"driver {place + 1} left", quantity, "in", new, limit, access)
                )
                rate = (limit - new) / life * rng.uniform(0.8, 1.25)
                for at in range(9, len(days), 12):
                    value = new + rate * (odometer[at] - 10_000) + rng.normal(0, 0.02 * (limit - new))
                    readings.append((name, f"{days[at]:%Y-%m-%d}", f"{max(value, 0):.4f}", "in"))
        for month in pd.date_range("2026-11-01", "2031-12-01", freq="MS"):
            miles = round(rng.uniform(350, 650)) if month.month in range(5, 11) else 0
            usage.append((engine, f"{month:%Y-%m}", miles, round(0.15 * miles)))
    currency = ["USD", ""][seed % 2]
    costs = [("wheels out", "wheels_out", 9_000, currency), ("rods down", "rods_down", 900, currency)]
    for component, *_ in PARTS:
        costs.append((component, "renewed", round(rng.uniform(200, 2_000)), "USD"))
    costs.append(("driver tire", "cut", 400, "USD"))
    begin = pd.Timestamp("2023-11-15") + pd.DateOffset(months=6 * (seed % 5))  # some books are young
    gifts = pd.date_range(begin, "2026-10-15", freq="MS")
    funds = [(f"{d:%Y-%m-%d}", round(rng.uniform(100, 900)), "USD", "received", "box") for d in gifts]
    funds.append(("2025-03-02", 9_000, "USD", "received", "grant for the rods"))
    funds.append(("2026-02-02", round(rng.uniform(1_000, 9_000)), "USD", "spent", "castings"))
    tables = {
        "vehicles": (["vehicle", "name", "arrangement"], [(engine, engine, "2-8-0") for engine in ENGINES]),
        "wear_points": (
            [
                "point",
                "vehicle",
                "component",
                "position",
                "quantity",
                "unit",
                "new_value",
                "condemning_limit",
                "access",
            ],
            points,
        ),
        "readings": (["point", "date", "value", "unit"], readings),
        "mileage": (["vehicle", "date", "odometer", "service_days"], mileage),
        "usage": (["vehicle", "month", "miles_planned", "miles_sd"], usage),
        "costs": (["component", "action", "cost", "currency"], costs),
        "funds": (["date", "amount", "currency", "kind", "note"], funds),
    }
    for name, (columns, rows) in tables.items():
        pd.DataFrame(rows, columns=columns).to_csv(folder / f"{name}.csv", index=False)
    return folder


def railway(folder: Path, seed: int) -> Path:
    """A store with one drawn railway, forecast and planned."""
    from dashboard.services.forecasting import run_forecast

    store = Store(folder / "railway.duckdb")
    add_files(store, [sheets(folder / "sheets", seed)], who="R. T.")
    run_forecast(store)
    command(store.path, *PLAN, "--name", "first")
    return store.path


def command(db: Path, *words: str) -> str:
    """What a command prints."""
    result = CliRunner().invoke(main, [*words, "--db", str(db)])
    assert result.exit_code == 0, result.output
    return result.stdout


@dataclass(frozen=True)
class Said:
    """All that is said of one engine: by the plan, the brief (JSON, print, HTML) and the two pages."""

    plan: dict
    brief: dict
    printed: str
    html: str
    cards: dict
    window_page: str

    def lines(self, window: int, vehicle: str) -> dict[str, float]:
        """Priced work of a window in the plan: parts by component and action."""
        rows = pd.DataFrame(self.plan["scope"])
        rows = rows[(rows["vehicle"] == vehicle) & (rows["window"] == window) & rows["cost"].notna()]
        kinds = rows["component"] + " | " + rows["action"]
        return rows.groupby(kinds)["parts"].sum().to_dict()


def said_of(db: Path, vehicle: str, folder: Path, plan: dict) -> Said:
    """Ask every part that speaks of the engine's money."""
    out = folder / f"{vehicle}.html"
    words = ("brief", "--vehicle", vehicle)
    printed = command(db, *words, "--out", str(out))
    return Said(
        plan=plan,
        brief=json.loads(command(db, *words, "--json")),
        printed=printed,
        html=unescape(re.sub(r"<[^>]+>", " ", out.read_text())),
        cards=page(db, "case", vehicle)[1],
        window_page=page(db, "window", vehicle)[0],
    )


def page(db: Path, view: str, vehicle: str) -> tuple[str, dict[str, str]]:
    """Text of a page and its figures."""
    app = AppTest.from_file(APP, default_timeout=120)
    app.query_params["engine"] = vehicle
    app.run()
    app.switch_page(f"views/{view}.py")
    app.query_params["engine"] = vehicle
    app.run()
    assert not app.exception, app.exception
    text = "\n".join(e.value for kind in (app.markdown, app.caption, app.subheader) for e in kind)
    return text.replace("\\", "").replace("⁠", ""), {card.label: card.value for card in app.metric}


def kept_plan(db: Path, run: str) -> dict:
    """A plan as it is kept, by frame."""
    store = Store(db)
    kept = {name: store.read_run(run, name).to_dict("records") for name in ("windows", "scope", "amounts")}
    plans = states(store)
    assumed = plan_assumptions(plans.loc[plans["run_id"] == run, "about"].iloc[0])
    return kept | {"assumed": assumed.to_dict("records")}
