"""How the parts of the demo railway wear: level and rate of every life, good seasons and bad ones.

Wear is counted from new toward the limit. On a hidden straight scale z it is z0 + b m + tau B(m), with m the
miles of the life, b its rate and B a Brownian path that the two sides of an axle share in part; what the
gauge finds is z bent by the shape of the kind.
"""

from collections.abc import Hashable
from typing import Any

import numpy as np
import pandas as pd

from data_demo.draws import Floats, normal, normals, stream
from data_demo.traffic import Running

SEASON_MILES = 5000.0  # the season that the column `season` of the kinds speaks of
SHARED_PATH = 0.4  # share of the Brownian variance that both wheels of an axle have in common
ACCELERATION = 1.3  # wear of a joint that knocks: w = D (z / D)^1.3
RUN_IN_SHARE, RUN_IN_MILES = 0.08, 3000.0  # wear of running in, share of D, and the miles that it takes
FIT_SPREAD = 0.02  # scatter of the fit of a new part, share of D
NO_LIMIT_SCALE = 0.015  # D of a kind whose limit nobody has set, share of the new value


class WearLaw:
    """The points of one engine as arrays, and the laws by which they wear.

    Attributes
    ----------
    points : one row a wear point, as `data_demo.roster.roster` makes them.
    sign : +1 where the quantity grows, -1 where it shrinks.
    scale : wear at the limit, D. [unit of the point]
    rate : mean rate of the kind at this position. [unit / mi]
    """

    def __init__(self, points: pd.DataFrame, running: Running) -> None:
        self.points = points.reset_index(drop=True)
        self.rows = self.points.to_dict("records")
        self.running = running
        self.new: Floats = self.points["new"].to_numpy(float)
        limit = self.points["limit"].to_numpy(float)
        limit = np.where(np.isnan(limit), self.new * (1 + NO_LIMIT_SCALE), limit)
        self.sign: Floats = np.sign(limit - self.new)
        self.scale: Floats = np.abs(limit - self.new)
        shape = self.points["shape"]
        self.accelerating = (shape == "accelerating").to_numpy(bool)
        self.run_in: Floats = np.where(shape == "running in", RUN_IN_SHARE * self.scale, 0.0)
        mean = (self.scale - self.run_in) / self.points["life_miles"].to_numpy(float)
        self.tau: Floats = self.points["season"].to_numpy(float) * mean * SEASON_MILES**0.5
        self.rate: Floats = mean * np.array([_place(row) for row in self.rows])
        self.path = self._paths()

    def _paths(self) -> Floats:
        """Return B at the evening of every day, shape (points, days). [mi^1/2]"""
        names = self.points["point"].tolist()
        shared = (
            self.points["vehicle"] + self.points["component"] + self.points["quantity"] + self.points["axle"]
        ).tolist()
        miles = np.diff(self.running.odometer, prepend=self.running.odometer[0])
        ran = miles > 0
        steps = np.zeros((len(names), len(miles)))
        steps[:, ran] = np.sqrt(SHARED_PATH) * normals(shared, int(ran.sum()), "season")
        steps[:, ran] += np.sqrt(1 - SHARED_PATH) * normals(names, int(ran.sum()), "season")
        return np.cumsum(steps * np.sqrt(miles), axis=1)

    def life_rate(self, i: int, start: object) -> float:
        """Return the rate of the life of point i that starts then. [unit / mi]

        Both wheels of an axle share part of it, and the hollow, height and thickness of one tire (all of them
        tread wear) share more.
        """
        row = self.rows[i]
        tread = row["code"] in ("HOLLOW", "HEIGHT", "TIRE", "RIM")
        z = np.sqrt(0.4) * normal(row["vehicle"], row["axle"], row["component"], start, "axle rate")
        z += np.sqrt(0.4 if tread else 0.0) * normal(row["vehicle"], row["position"], start, "tread rate")
        z += np.sqrt(0.2 if tread else 0.6) * normal(row["point"], start, "own rate")
        sd = float(row["rate_spread"])
        return float(self.rate[i] * np.exp(sd * z - sd**2 / 2))

    def bend(self, z: Floats, miles: Floats, i: int) -> Floats:
        """Return wear of point i on the scale of the gauge for z and the miles of the life. [unit]"""
        scale = self.scale[i]
        bent = scale * np.sign(z) * np.abs(z / scale) ** ACCELERATION if self.accelerating[i] else z
        return np.asarray(bent + self.run_in[i] * -np.expm1(-miles / RUN_IN_MILES))


def _place(row: dict[Hashable, Any]) -> float:
    """Return how much faster than its kind a position wears. [1]"""
    factor = float(np.exp(0.10 * normal(row["point"], "place")))
    position, code = str(row["position"]), row["code"]
    if code == "FLANGE":  # the leading wheel of a group guides it through the curves
        factor *= {"driver 1": 1.25, "driver 4": 1.10, "engine truck 1": 1.10}.get(str(row["axle"]), 0.95)
    if code == "SIDEROD" and position.startswith(("driver 2", "driver 3")):
        factor *= 1.10
    if code in ("HOLLOW", "FLANGE", "LINER") and position.endswith("left"):
        factor *= 1.06  # the line turns more to the right on its way up
    return factor


def remaining(drift: float, tau: float, gap: float, *name: object) -> float:
    """Draw the miles until the path first covers the gap: inverse Gaussian, exact. [mi]

    Source: first passage of Brownian motion with drift; mean gap / drift, shape (gap / tau)^2.
    """
    return float(stream(*name, "crossing").wald(gap / drift, (gap / tau) ** 2))
