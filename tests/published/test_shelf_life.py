"""Time until a confidence bound reaches a limit: published shelf lives (ICH Q1E).

A batch loses potency from 100 %; loss is wear, and the shelf life is the earliest time at which the one-sided
95 % bound of the mean line is at the limit: the 5 % quantile of its crossing.

Sources
-------
LeBlond, Griffith & Aubuchon (2011), Linear Regression 102: Stability Shelf Life Estimation Using Analysis of
    Covariance, J. Valid. Technol. 17(3):47-68, Tables V, VII, IX, XIV; read, with more digits in the tests of
    the R package expirest.
SAS Institute, JMP 12 Reliability and Survival Methods, p. 174-176, Figure 6.27; read in the same place.
"""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from models.rivals.least_squares import fit_lines
from models.rivals.lines import Lines, crossing_quantiles

LIMIT = 95.0


def own_lines(table, value):
    """Least squares through each batch on its own, of the loss."""
    batches = [b for _, b in table.groupby("Batch")]
    width = max(len(b) for b in batches)
    x, y = np.full((len(batches), width), np.nan), np.full((len(batches), width), np.nan)
    for i, batch in enumerate(batches):
        x[i, : len(batch)], y[i, : len(batch)] = batch["Month"], -batch[value]
    return fit_lines(x, y)


def common_slope_lines(table, value, *, own_slopes=False):
    """Batch lines that share the residual variance, and unless own_slopes the slope (statsmodels OLS)."""
    dummies = (table[["Batch"]].to_numpy() == np.unique(table["Batch"])).astype(float)
    month = table[["Month"]].to_numpy()
    design = np.hstack([dummies, dummies * month if own_slopes else month])
    fit = sm.OLS(-table[value].to_numpy(), design).fit()
    k = dummies.shape[1]
    slope = np.arange(k, 2 * k) if own_slopes else np.full(k, k)
    cov, b = fit.cov_params(), fit.params
    return Lines(
        level=b[:k],
        rate=b[slope],
        level_var=np.diag(cov)[:k],
        rate_var=np.diag(cov)[slope],
        covariance=cov[np.arange(k), slope],
        reading_var=np.full(k, fit.scale),
        origin=np.zeros(k),
    ), np.full(k, fit.df_resid)


def earliest(lines, freedom, limit=LIMIT, p=0.05):
    n = len(lines.level)
    t = stats.t.ppf(p, freedom)[:, None]
    return crossing_quantiles(lines, np.full(n, -limit), np.zeros(n), t)[:, 0].min()


def batches(published, names):
    table = published("stability_exp1")
    return table[table["Batch"].isin(names)]


def pooled(table, value):
    return own_lines(table.assign(Batch="all"), value)


def test_table_v_one_line_for_all_batches(published):
    lines, freedom = pooled(batches(published, ["b2", "b5", "b7"]), "Potency")
    at_zero = lines.moved_to(np.zeros(1))
    assert -at_zero.level[0] == pytest.approx(100.567, abs=5e-4)
    assert -at_zero.rate[0] == pytest.approx(-0.192994, abs=5e-7)
    assert earliest(lines, freedom) == pytest.approx(25.995763193, abs=1e-8)


def test_table_vii_common_slope(published):
    lines, freedom = common_slope_lines(batches(published, ["b3", "b4", "b5"]), "Potency")
    np.testing.assert_allclose(-lines.level, [102.176, 104.255, 100.820], atol=5e-4)
    assert -lines.rate[0] == pytest.approx(-0.213121, abs=5e-7)
    assert earliest(lines, freedom) == pytest.approx(23.397266347, abs=1e-8)


def test_table_ix_nothing_pooled_but_the_variance(published):
    lines, freedom = common_slope_lines(batches(published, ["b4", "b5", "b8"]), "Potency", own_slopes=True)
    np.testing.assert_allclose(-lines.rate, [-0.196151, -0.208609, -0.330208], atol=5e-7)
    assert earliest(lines, freedom) == pytest.approx(15.606130538, abs=1e-8)


def test_table_ix_each_batch_on_its_own(published):
    lines, freedom = own_lines(batches(published, ["b4", "b5", "b8"]), "Potency")
    # The manual prints 15.844877978: the variance of each batch, not the pooled one.
    assert earliest(lines, freedom) == pytest.approx(15.844877978, abs=1e-8)


def test_table_xiv_moisture_between_two_limits(published):
    table = published("stability_exp3")
    lines, freedom = pooled(table, "Moisture")
    at_zero = lines.moved_to(np.zeros(1))
    assert -at_zero.level[0] == pytest.approx(2.45678, abs=5e-6)
    assert -at_zero.rate[0] == pytest.approx(0.0022723, abs=5e-8)
    two_sided = 0.025
    # Falling to 1.5 %: loss reaches its limit. Rising to 3.5 %: the same line turned over.
    assert earliest(lines, freedom, 1.5, two_sided) == pytest.approx(50.7665, abs=5e-5)
    rising = Lines(**{**vars(lines), "level": -lines.level, "rate": -lines.rate})
    assert earliest(rising, freedom, -3.5, two_sided) == pytest.approx(45.3460, abs=5e-5)


@pytest.mark.parametrize(
    ("model", "expected"), [("own slopes", 23.11596), ("common slope", 23.47505), ("one line", 29.98567)]
)
def test_jmp_figure_6_27(published, model, expected):
    table = published("stability_exp4")
    lines, freedom = {
        "own slopes": lambda: own_lines(table, "Conc"),
        "common slope": lambda: common_slope_lines(table, "Conc"),
        "one line": lambda: pooled(table, "Conc"),
    }[model]()
    assert earliest(lines, freedom) == pytest.approx(expected, abs=5e-6)
