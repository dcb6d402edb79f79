"""Material of the part as something that makes rates differ within a family."""

import numpy as np
import pandas as pd
import pytest
from fleets.lived_worlds import Law, place_of, tables_of

from models.distribution import PROBABILITIES
from models.forecast.run import make_forecast
from models.lives.follow import follow_parts
from models.lives.materials import material_of_points

SLOW, FAST = "steel, grade one", "steel, grade two"
WHEELSETS = [(vehicle, axle) for vehicle in "ABC" for axle in (1, 2, 3, 4)]


def railway(seed):
    """Three engines of four wheelsets, every other one of a steel that wears 1.8 times as fast, over two and
    a half lives of the slow ones; and the miles that each place truly has left."""
    rng = np.random.default_rng(seed)
    laws = {SLOW: Law(life=54_000.0, spread=0.15), FAST: Law(life=30_000.0, spread=0.15)}
    parts, points, tables = [], [], []
    for vehicle in "ABC":
        axles = [axle for v, axle in WHEELSETS if v == vehicle]
        steels = [(SLOW, FAST)[(axle + "ABC".index(vehicle)) % 2] for axle in axles]
        of = [(*each, side) for each in zip(axles, steels, strict=True) for side in ("left", "right")]
        places = [place_of(rng, laws[steel], 90_000 / laws[steel].life, every=0.25) for _, steel, _ in of]
        made = tables_of(places, laws[SLOW], vehicle=vehicle)
        made["wear_points"] = made["wear_points"].assign(
            component="driver tire",
            quantity="tread hollow",
            position=[f"driver {axle} {side}" for axle, _, side in of],
        )
        parts += [(f"{vehicle}{axle}", steel) for axle, steel, side in of if side == "left"]
        points += [place.left for place in places]
        tables.append(made)
    joined = {name: pd.concat([t[name] for t in tables], ignore_index=True) for name in tables[0]}
    return joined, parts, np.array(points)


def with_parts(tables, parts, material=True):
    numbers = [number for number, _ in parts]
    nothing = {"class": "", "maker": "", "made": "", "miles_before": np.nan, "note": ""}
    told = pd.DataFrame({"part_no": numbers, "component": "driving wheelset", **nothing})
    told["material"] = [steel if material else "" for _, steel in parts]
    fitted = pd.DataFrame({"part_no": numbers, "vehicle": [n[0] for n in numbers]})
    fitted["position"] = [f"driver {n[1]}" for n in numbers]
    fitted["since"], fitted["until"], fitted["why"] = tables["mileage"]["date"].min(), pd.NaT, ""
    return tables | {"parts": told, "fittings": fitted}


def miles(tables):
    """Quantiles of the remaining miles of each place, shape (places, probabilities)."""
    kept = make_forecast(tables).frames["distribution"].set_index("point")["remaining"]
    return np.stack([np.asarray(kept[point]) for point in tables["wear_points"]["point"]])


def loss(tables, left):
    some = left > 0
    off = left[some, None] - miles(tables)[some]
    return np.maximum(PROBABILITIES * off, (PROBABILITIES - 1) * off).mean()


def test_each_place_has_the_material_of_the_part_that_is_there():
    tables, parts, _ = railway(1)
    told = with_parts(tables, parts)
    told["parts"].loc[0, "material"] = "  Steel,  grade ONE "
    wanted = [steel for _, steel in parts for _ in range(2)]
    wanted[:2] = [SLOW, SLOW]
    assert material_of_points(told).tolist() == wanted
    assert material_of_points(tables).tolist() == [""] * 24
    assert material_of_points(with_parts(tables, parts, material=False)).tolist() == [""] * 24


def test_the_material_goes_with_the_part():
    tables, parts, _ = railway(1)
    told = with_parts(tables, parts)
    moved = told["fittings"]
    day = tables["mileage"]["date"].iloc[40]
    moved.loc[moved["part_no"].isin(["A1", "A2"]), "until"] = day
    after = moved[moved["part_no"].isin(["A1", "A2"])].assign(since=day, until=pd.NaT)
    after["position"] = after["position"].to_numpy()[::-1]
    followed = follow_parts(told | {"fittings": pd.concat([moved, after], ignore_index=True)})
    # Driver 1 has the part that was at driver 2, and the reverse; the other places keep theirs.
    assert material_of_points(followed).tolist()[:6] == [SLOW, SLOW, FAST, FAST, FAST, FAST]


def test_a_family_of_two_materials_is_forecast_better_where_they_are_told():
    """Five railways; told over untold as the ratio of their losses. The readings must show the difference
    first, so not every railway gains."""
    ratios = []
    for seed in range(5):
        tables, parts, left = railway(seed)
        untold = loss(with_parts(tables, parts, material=False), left)
        ratios.append(loss(with_parts(tables, parts), left) / untold)
    assert np.mean(ratios) < 0.95
    assert max(ratios) < 1.05


def test_a_material_that_changes_nothing_changes_no_forecast():
    tables, parts, _ = railway(3)
    same = [(number, (SLOW, FAST)[i // 2 % 2]) for i, (number, _) in enumerate(parts)]
    plain, told = (miles(with_parts(tables, same, material=told)) for told in (False, True))
    assert told == pytest.approx(plain, nan_ok=True)
