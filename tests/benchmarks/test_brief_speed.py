"""How long a brief takes: simulate and build the case of 250 wear points, then write it as PDF and HTML."""

import numpy as np
import pandas as pd
import pytest

from dashboard.papers.brief import BriefSettings, compose, render_html, render_pdf
from dashboard.services.brief_settings import load_settings
from models.case.build import build_case
from models.case.inputs import CaseChoices, CaseInputs
from models.distribution import PROBABILITIES
from models.futures.simulation import Assumptions, simulate
from models.plan.jobs import jobs_of, openings_of

AS_OF = pd.Timestamp("2026-10-31")
OPENS = pd.Timestamp("2027-11-01")
KINDS = 25


def railway():
    rng = np.random.default_rng(3)
    n = 10 * KINDS
    spread = np.exp(0.25 * np.linspace(-3, 3, len(PROBABILITIES)))
    points = pd.DataFrame(
        {
            "point": [f"P{i:03d}" for i in range(n)],
            "vehicle": "Alder",
            "component": [f"part {i % KINDS}" for i in range(n)],
            "position": [f"place {i}" for i in range(n)],
            "quantity": "clearance",
            "access": rng.choice(["in_place", "rods_down", "wheels_out"], n),
            "matched_set": "",
            "role": "",
        }
    )
    middle = rng.uniform(1_000, 60_000, n)
    distribution = pd.DataFrame({"point": points["point"]})
    distribution["remaining"] = [list(m * spread) for m in middle]
    distribution["new_life"] = [list(2 * m * spread) for m in middle]
    costs = pd.DataFrame({"component": [f"part {i}" for i in range(KINDS)], "action": "renewed"})
    costs = costs.assign(cost=rng.uniform(80, 8_000, KINDS), currency="USD", labor_hours=1.0, days_out=1.0)
    return points, distribution, costs.assign(price_date=pd.Timestamp("2026-04-01"))


def case_inputs():
    points, distribution, costs = railway()
    months = pd.date_range("2026-11-01", periods=168, freq="MS")
    miles = np.where(months.month.isin(range(5, 11)), 500.0, 0.0)
    usage = pd.DataFrame({"vehicle": "Alder", "month": months, "miles": miles, "miles_sd": 0.15 * miles})
    days = pd.date_range("2022-05-31", AS_OF, freq="ME")
    log = pd.DataFrame({"vehicle": "Alder", "date": days, "odometer": 9e4 + 250.0 * np.arange(len(days))})
    funds = pd.DataFrame({"date": pd.date_range("2023-11-05", "2026-10-05", freq="MS"), "amount": 900.0})
    return CaseInputs(
        vehicle="Alder",
        name="Alder",
        simulation=simulate(points, distribution, usage, costs=costs, assumptions=Assumptions(draws=2000)),
        jobs=jobs_of(points, costs),
        openings=openings_of(costs),
        windows=pd.DataFrame({"opens": [pd.Timestamp(f"{year}-11-01") for year in range(2026, 2039)]}),
        mileage=log.assign(service_days=5.0),
        funds=funds.assign(currency="USD", kind="received"),
        life_miles=pd.Series(9_000.0, index=points["point"]),
        as_of=AS_OF,
        points=len(points),
    )


@pytest.fixture(scope="module")
def prepared():
    return case_inputs()


@pytest.fixture(scope="module")
def choices():
    return CaseChoices(opens=OPENS, terms=load_settings(None, {}).terms)


def test_simulate_what_is_ahead(benchmark):
    assert benchmark(case_inputs).simulation.draws == 2000


def test_turn_the_case(benchmark, prepared, choices):
    assert benchmark(build_case, prepared, choices).ask > 0


def test_write_pdf(benchmark, prepared, choices):
    case = build_case(prepared, choices)
    assert benchmark(lambda: render_pdf(compose(case, BriefSettings(), AS_OF))).startswith(b"%PDF-")


def test_write_html(benchmark, prepared, choices):
    case = build_case(prepared, choices)
    assert benchmark(lambda: render_html(compose(case, BriefSettings(), AS_OF))).startswith("<!doctype")
