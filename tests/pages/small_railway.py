"""A small railway whose files are written out here."""

from pathlib import Path

VEHICLES = """vehicle,name,arrangement,class,service_from
Nettle,Nettle,2-6-0,mogul,2015-04-01
"""
HEAD = (
    "point,vehicle,component,position,quantity,unit,new_value,shop_limit,condemning_limit,condemned_when,"
    "limit_source,gauge_sd,access"
)
TREAD = "tread hollow,in,0,0.0625,0.3125,at,49 CFR 230.113(h),0.01,wheels_out"
SLIDE = "vertical clearance,in,0.015,,0.25,at,49 CFR 230.94,0.002,in_place"
POINTS = f"""{HEAD}
N-D1L-HOLLOW,Nettle,driver tire,driver 1 left,{TREAD}
N-D1R-HOLLOW,Nettle,driver tire,driver 1 right,{TREAD}
N-D2L-HOLLOW,Nettle,driver tire,driver 2 left,{TREAD}
N-D2R-HOLLOW,Nettle,driver tire,driver 2 right,{TREAD}
N-XH-L,Nettle,crosshead,left,{SLIDE}
N-XH-R,Nettle,crosshead,right,{SLIDE}
N-SPRING,Nettle,back spring hanger pin,driver 3 left,clearance,in,0.01,,,at,,0.002,in_place
"""
HOLLOWS = {  # in, by year; the second wheel wears fastest
    "N-D1L-HOLLOW": [0.05, 0.08, 0.11, 0.14, 0.17],
    "N-D1R-HOLLOW": [0.04, 0.07, 0.10, 0.12, 0.15],
    "N-D2L-HOLLOW": [0.06, 0.12, 0.17, 0.23, 0.28],
    "N-D2R-HOLLOW": [0.05, 0.09, 0.12, 0.16, 0.20],
    "N-XH-L": [0.02, 0.03, 0.045, 0.055, 0.07],
    "N-XH-R": [0.02, 0.035, 0.045, 0.06, 0.075],
}


def small_railway(folder: Path) -> Path:
    """Files of a railway of one engine and seven wear points; 1,000 miles a season, read each October."""
    folder.mkdir(parents=True, exist_ok=True)
    years = range(2019, 2024)
    log = [
        f"Nettle,{y}-{m:02d}-01,{(y - 2015) * 1000 + (m - 4) * 1000 // 6},mi"
        for y in range(2015, 2024)
        for m in (4, 10)
    ]
    readings = [
        f"{point},{year}-09-15,{value},in"
        for point, values in HOLLOWS.items()
        for year, value in zip(years, values, strict=True)
    ]
    usage = [f"Nettle,{y}-{m:02d},{1000 / 6:.1f},20" for y in range(2024, 2040) for m in range(5, 11)]
    costs = [
        "driver tire,renewed,9000,USD,60,5,2023-01-01",
        "crosshead,renewed,1200,USD,20,2,2023-01-01",
        "back spring hanger pin,renewed,150,USD,4,1,2023-01-01",
        "opening,rods_down,800,USD,16,2,2023-01-01",
        "opening,wheels_out,6000,USD,120,10,2023-01-01",
    ]
    files = {
        "vehicles": VEHICLES,
        "wear_points": POINTS,
        "mileage": "\n".join(["vehicle,date,odometer,unit", *log]),
        "readings": "\n".join(["point,date,value,unit", *readings]),
        "usage": "\n".join(["vehicle,month,miles_planned,miles_sd", *usage]),
        "costs": "\n".join(["component,action,cost,currency,labor_hours,days_out,price_date", *costs]),
    }
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text)
    return folder


def small_railway_forecast(folder: Path) -> None:
    """Its files below ``files``, and ``small.duckdb`` with them and one forecast."""
    from dashboard.services.forecasting import run_forecast
    from ingest.store import Store
    from ingest.verdicts.add import add_files

    store = Store(folder / "small.duckdb")
    add_files(store, [small_railway(folder / "files")], who="R. T.")
    run_forecast(store)
