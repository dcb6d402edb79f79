"""What the office keeps: prices, tear-down findings, the campaign's money."""

from datetime import date, timedelta

import pandas as pd

from data_demo.draws import normal, pick, stream, uniform
from data_demo.roster import table
from data_demo.traffic import ENGINES, LAST_DAY, day_between

PRICE_DATE = date(2026, 3, 31)

INSPECTIONS = (
    ("Quillon", date(2020, 7, 9), "1472 service days"),
    ("Quillon", date(2020, 7, 9), "tubes and flues"),
    ("Quillon", date(2025, 4, 16), "fifth annual"),
    ("Quillon", date(2026, 4, 15), "annual"),
    ("Quillon", date(2026, 4, 15), "92 service days"),
    ("Quillon", date(2026, 8, 20), "31 service days"),
    ("Hobnail", date(2018, 6, 28), "1472 service days"),
    ("Hobnail", date(2018, 6, 28), "tubes and flues"),
    ("Hobnail", date(2023, 4, 19), "fifth annual"),
    ("Hobnail", date(2026, 4, 22), "annual"),
    ("Hobnail", date(2026, 4, 22), "92 service days"),
    ("Hobnail", date(2026, 9, 2), "31 service days"),
)
"""The last inspection of each kind that the rules ask for."""


def costs() -> pd.DataFrame:
    """Return the price list of this spring, and older prices of a few jobs."""
    prices = table("prices.csv").assign(currency="USD", price_date=PRICE_DATE)
    old = prices[prices["component"].isin(["driver tire", "side rod bushing", "crown brass"])]
    old = old.assign(cost=(old["cost"] * 0.84 / 10).round() * 10, price_date=date(2021, 2, 15))
    columns = ["component", "action", "cost", "currency", "labor_hours", "days_out", "price_date"]
    return pd.concat([prices, old], ignore_index=True)[columns]


def findings(points: pd.DataFrame) -> pd.DataFrame:
    """Return what every overhaul found when the machine was open, component by component."""
    kinds = table("findings.csv")
    counts = points.groupby(["vehicle", "component"])["position"].nunique()
    rows = []
    for engine in ENGINES:
        for winter in (2005, *engine.overhauls):
            for kind in kinds.to_dict("records"):
                name = (engine.vehicle, winter, kind["component"])
                examined = int(counts.get((engine.vehicle, kind["component"]), 0))
                if not examined:
                    continue
                chance = min(max(float(kind["defective_share"]) * (1 + 0.4 * normal(*name)), 0.0), 1.0)
                defective = int(stream(*name, "found").binomial(examined, chance))
                first, last = date(winter + 1, 1, 5), date(winter + 1, 2, 26)
                day = date(2005, 4, 4) if winter == 2005 else day_between(first, last, *name)
                note = str(kind["note"]) if defective else ""
                rows.append((engine.vehicle, day, kind["component"], examined, defective, note))
    rows += [(*inspection, 1, 0, "passed") for inspection in INSPECTIONS]
    columns = ["vehicle", "date", "component", "examined", "defective", "note"]
    return pd.DataFrame(rows, columns=columns).sort_values(
        ["date", "vehicle", "component"], ignore_index=True
    )


def funds() -> pd.DataFrame:
    """Return three years of gifts, pledges and bills of the campaign."""
    rows: list[tuple[date, float, str, str, str]] = []
    day, n = date(2023, 11, 4), 0
    while day <= LAST_DAY:
        n += 1
        amount = round(75 * 2.7 ** (1.1 * abs(normal("gift", n)) + uniform("gift", n, "size")) / 5) * 5
        kind = "pledged" if uniform("gift", n, "kind") < 0.2 else "received"
        gift = ["members' evening", "collecting box", "by letter", "on the train", "yearly gift"]
        rows.append(
            (day, float(amount * (4 if kind == "pledged" else 1)), "USD", kind, pick(gift, "gift", n, "way"))
        )
        day += timedelta(days=1 + int(13 * uniform("gift", n, "next")))
    rows += [
        (date(2024, 5, 18), 25000.0, "USD", "received", "grant for the running gear"),
        (date(2025, 6, 7), 20000.0, "USD", "pledged", "matching grant, paid when matched"),
        (date(2025, 2, 20), 8450.0, "USD", "spent", "turning Quillon's tires"),
        (date(2026, 3, 12), 2310.0, "USD", "spent", "castings for rod bushings"),
        (date(2026, 9, 3), 6200.0, "USD", "spent", "deposit for driving box brasses"),
    ]
    frame = pd.DataFrame(rows, columns=["date", "amount", "currency", "kind", "note"])
    return frame.sort_values("date", kind="stable", ignore_index=True)
