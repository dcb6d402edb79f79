"""The forecasters as scikit-learn regressors."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from sklearn.base import clone
from sklearn.model_selection import GridSearchCV, PredefinedSplit, cross_val_score
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import FunctionTransformer
from sklearn.utils.estimator_checks import check_estimator, estimator_checks_generator

from models.rivals.last_two import LastTwoReadings
from models.rivals.least_squares import LeastSquares
from models.rivals.life_regressor import LifeRegressor
from models.rivals.mixed import MixedModel

LASER = Path(__file__).parents[2] / "published" / "data" / "gaas_laser.csv"


def applicable():
    """The checks that scikit-learn makes of an estimator, but that of array libraries (it skips itself)."""
    for estimator in (LifeRegressor(), LifeRegressor(LastTwoReadings())):
        for of, check in estimator_checks_generator(estimator):
            if check.func.__name__ != "check_array_api_input":
                yield pytest.param(of, check, id=f"{estimator.forecaster}-{check.func.__name__}")


@pytest.mark.parametrize(("estimator", "check"), list(applicable()))
def test_scikit_learns_own_checks(estimator, check):
    check(estimator)


CANNOT_APPLY: dict[str, str] = {}
"""Checks that would fail by what the regressor is, with why. None: a row of random columns is a life of its
own, which the tag ``poor_score`` says, and the check of array libraries skips itself without them."""


def test_check_estimator_passes_with_no_exception_made():
    results = check_estimator(LifeRegressor(), expected_failed_checks=CANNOT_APPLY, on_skip=None)
    assert {r["status"] for r in results} <= {"passed", "skipped"}
    assert {r["check_name"] for r in results if r["status"] == "skipped"} <= {"check_array_api_input"}


def test_a_clone_has_the_parameters_and_nothing_fitted(laser):
    fitted = LifeRegressor(MixedModel(most_families=3), limit=10.0).fit(*laser)
    copy = clone(fitted)
    assert (copy.limit, copy.forecaster.most_families) == (10.0, 3)
    assert copy.forecaster is not fitted.forecaster
    assert not hasattr(copy, "keys_")


def test_a_grid_search_finds_the_forecaster_that_reads_ahead_best(laser):
    x, y = laser
    fold = np.where(x[:, 0] <= 2000, -1, 0)  # learn from the first half of each life, forecast the other
    choice = {"forecaster": [LastTwoReadings(), LeastSquares()]}
    search = GridSearchCV(LifeRegressor(limit=10.0), choice, cv=PredefinedSplit(fold)).fit(x, y)
    early = x[:, 0] <= 2000
    by_hand = [
        LifeRegressor(f, 10.0).fit(x[early], y[early]).score(x[~early], y[~early])
        for f in choice["forecaster"]
    ]
    np.testing.assert_allclose(search.cv_results_["mean_test_score"], by_hand)
    assert isinstance(search.best_params_["forecaster"], type(choice["forecaster"][int(np.argmax(by_hand))]))


def test_in_a_pipeline_kilometres_become_miles_first(laser):
    x, y = laser
    to_miles = FunctionTransformer(lambda rows: rows * [1 / 1.609344, 1.0])
    piped = make_pipeline(to_miles, LifeRegressor(limit=10.0)).fit(x * [1.609344, 1.0], y)
    asked = np.array([[5000.0, 103.0], [4500.0, 101.0]])
    np.testing.assert_allclose(
        piped.predict(asked * [1.609344, 1.0]), LifeRegressor(limit=10.0).fit(x, y).predict(asked)
    )


@pytest.fixture(scope="module")
def laser():
    table = pd.read_csv(LASER, comment="#")
    return table[["hours", "unit"]].to_numpy(float), table["increase"].to_numpy()


def test_predicts_each_life_from_its_own_readings(laser):
    x, y = laser
    early = x[:, 0] <= 2000
    fitted = LifeRegressor().fit(x[early], y[early])
    later = fitted.predict(x[~early])
    # Two lasers bend by up to 1.3 %; a line through all of them misses by 2 % and more.
    pooled = np.polyval(np.polyfit(x[early, 0], y[early], 1), x[~early, 0])
    assert np.sqrt(np.mean((later - y[~early]) ** 2)) < 0.5 * np.sqrt(np.mean((pooled - y[~early]) ** 2))


def test_a_life_never_seen_gets_the_line_through_all(laser):
    x, y = laser
    fitted = LifeRegressor().fit(x, y)
    expected = np.polyval(np.polyfit(x[:, 0], y, 1), 1000.0)
    assert fitted.predict([[1000.0, 999.0]])[0] == pytest.approx(expected)


def test_order_of_rows_does_not_matter(laser):
    x, y = laser
    shuffle = np.random.default_rng(1).permutation(len(x))
    asked = np.array([[5000.0, 103.0], [4500.0, 101.0], [4200.0, 103.0]])
    p = [0.1, 0.5, 0.9]
    in_order = LifeRegressor().fit(x, y).predict_quantiles(asked, p)
    shuffled = LifeRegressor().fit(x[shuffle], y[shuffle]).predict_quantiles(asked[[2, 0, 1]], p)
    np.testing.assert_allclose(shuffled, in_order[[2, 0, 1]], rtol=1e-9)
    assert (np.diff(in_order, axis=1) > 0).all()


def test_works_in_cross_validation(laser):
    x, y = laser
    own = cross_val_score(LifeRegressor(MixedModel(), limit=10.0), x, y, cv=3)
    assert own.shape == (3,)
    assert np.isfinite(own).all()
