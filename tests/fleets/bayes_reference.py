"""A hierarchical Bayesian model of wear, sampled by the no-U-turn sampler: what careful modelling by hand
reaches, given hours. Its model and its sums share no code with the wear model.

Wear is a share of the limit, distance a share of the family's pooled straight life. Each family has a mean
rate, a spread of rates, a Brownian part and a gauge error, and where asked a bend and a second gauge; their
logs come from laws that all families share, of which centre and width are sampled too. A family bends by a
power of the distance or as an exponential function of it. What a season does to
an engine is one number for all its parts. Rates and levels of lives are integrated out: the readings of a
life are jointly normal. Only where readings may be wild are rates and levels sampled themselves.

References
----------
.. [1] M. D. Hoffman, A. Gelman, "The No-U-Turn Sampler", J. Machine Learning Research 15 (2014) 1593-1623.
.. [2] C. J. Lu, W. Q. Meeker, "Using degradation measures to estimate a time-to-failure distribution",
   Technometrics 35 (1993) 161-174 (random rates; without the Brownian part).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.wear.estimator import Forecaster

SEED = 5


@dataclass(frozen=True)
class Beside:
    """What is known beside the lives: n lives of k readings in s seasons.

    Attributes
    ----------
    second : shape (n, k). The reading was taken with the family's second gauge.
    engine : shape (n,). Engine of each life, counted from 0.
    season_miles : shape (n, k, s). Miles of the life in each season up to each reading. [mi]
    a_season : shape (n,). Miles of the engine in a season to come. [mi]
    """

    second: np.ndarray | None = None
    engine: np.ndarray | None = None
    season_miles: np.ndarray | None = None
    a_season: np.ndarray | None = None


@dataclass
class HierarchicalBayes(Forecaster):
    """The reference behind the forecasters' interface.

    Parameters
    ----------
    bent : families bend: wear goes as a power of the distance, or its rate grows or falls exponentially with
        the distance, which of both is marginalised; otherwise all wear is straight.
    wild : a share of the readings, which is learned, is off by more than the gauge's error.
    two : a share of each family's lives wears faster, by a factor of the family; nobody says which.
    beside : gauges and seasons of the lives, where they play a part.
    warm_up, samples : steps of the sampler.

    Attributes
    ----------
    draws_ : name -> samples of the posterior.
    divergent_ : steps that the sampler calls divergent.
    """

    bent: bool = False
    wild: bool = False
    two: bool = False
    beside: Beside | None = None
    warm_up: int = 400
    samples: int = 400

    def fit(self, lives, quantity=None):
        """Sample the posterior."""
        import jax
        import numpyro
        from numpyro.infer import MCMC, NUTS, init_to_median

        numpyro.enable_x64()
        super().fit(lives, quantity)
        read = np.isfinite(lives.wear)
        self.read_, self.y_ = read, np.where(read, lives.wear / lives.limit[:, None], 0.0)
        miles = np.where(read, lives.miles, 0.0)
        f = lives.family
        squares, products = ((miles * x).sum(axis=1) for x in (miles, self.y_))
        rate = np.bincount(f, products) / np.maximum(np.bincount(f, squares), 1e-9)
        self.unit_ = (1.0 / np.maximum(rate, 1e-9))[f]
        self.m_ = miles / self.unit_[:, None]
        far = np.zeros(lives.n_families)
        np.maximum.at(far, f, self.m_.max(axis=1))
        self.far_ = np.maximum(far, 1e-6)[f]  # where every bend has the same wear, so that mu means the same
        kernel = NUTS(self._model, target_accept_prob=0.85, init_strategy=init_to_median)
        sampler = MCMC(kernel, num_warmup=self.warm_up, num_samples=self.samples, progress_bar=False)
        sampler.run(jax.random.key(SEED), extra_fields=("diverging",))
        self.draws_ = {name: np.asarray(x) for name, x in sampler.get_samples().items()}
        self.divergent_ = int(np.asarray(sampler.get_extra_fields()["diverging"]).sum())
        return self

    def _model(self):
        import jax.numpy as jnp
        import numpyro
        import numpyro.distributions as dist

        f, beside = self.lives_.family, self.beside or Beside()
        families = self.lives_.n_families

        def standard(name, *shape):
            return numpyro.sample(name, dist.Normal(0, 1).expand(shape).to_event(len(shape)))

        def of_families(name, centre, sd, width):
            middle = numpyro.sample(f"{name}_centre", dist.Normal(centre, sd))
            wide = numpyro.sample(f"{name}_width", dist.HalfNormal(width))
            return numpyro.deterministic(name, middle + wide * standard(f"{name}_away", families))

        gauge = jnp.exp(of_families("gauge", np.log(0.012), 1.0, 1.0))[f]
        wander = jnp.exp(of_families("wander", np.log(0.06), 0.8, 0.8))[f]
        spread = jnp.exp(of_families("spread", np.log(0.25), 0.6, 0.6))[f]
        mu = numpyro.sample("mu", dist.TruncatedNormal(1, 1, low=0.02).expand([families]).to_event(1))[f]
        u, y = self.m_, self.y_
        if beside.season_miles is not None:
            seasons = beside.season_miles.shape[2]
            sd = numpyro.sample("season_sd", dist.HalfNormal(0.3))
            severity = sd * standard("season_away", int(beside.engine.max()) + 1, seasons)
            severity = numpyro.deterministic("season", severity)
            run = beside.season_miles / self.unit_[:, None, None]
            u = (run * jnp.exp(severity)[beside.engine][:, None, :]).sum(axis=2)
        if self.bent:
            about_none = {}  # as often to either side
            for name, most in (("power", 0.6), ("curve", 2.0)):
                wide = numpyro.sample(f"{name}_width", dist.HalfNormal(most))
                about_none[name] = numpyro.deterministic(name, wide * standard(f"{name}_away", families))[f]
            power, curve = about_none.values()
            by_power = numpyro.sample("by_power", dist.Beta(2, 2))
            logs = jnp.stack([jnp.log(by_power), jnp.log1p(-by_power)])[:, None]
            ways = (bent_by_power(jnp, u, self.far_, power), bent_by_curve(jnp, u, self.far_, curve))
            each = [self._likelihood(y, way, (mu, spread, wander, gauge)) for way in ways]
            logs = logs + jnp.stack([jnp.zeros(families).at[f].add(like) for like in each])
            numpyro.deterministic("is_power", 1.0 / (1.0 + jnp.exp(logs[1] - logs[0])))
            numpyro.factor("readings", jnp.logaddexp(*logs).sum())
            return
        if beside.second is not None:
            off_sd = numpyro.sample("off_sd", dist.HalfNormal(0.1))
            off = numpyro.deterministic("off", off_sd * standard("off_away", families))
            y = y - jnp.where(beside.second, off[f][:, None], 0.0)
        if self.wild:
            self._wild_readings(y, u, (mu, spread, wander, gauge), standard)
            return
        if not self.two:
            numpyro.factor("readings", self._likelihood(y, u, (mu, spread, wander, gauge)).sum())
            return
        factor = jnp.exp(of_families("faster", 0.4, 0.3, 0.3))[f]
        faster = numpyro.sample("share", dist.Beta(2, 2).expand([families]).to_event(1))[f]
        slow = self._likelihood(y, u, (mu, spread, wander, gauge))
        fast = self._likelihood(y, u, (mu * factor, spread, wander, gauge))
        chance = jnp.stack([slow + jnp.log1p(-faster), fast + jnp.log(faster)])
        numpyro.deterministic("is_fast", 1.0 / (1.0 + jnp.exp(chance[0] - chance[1])))
        numpyro.factor("readings", jnp.logaddexp(*chance).sum())

    def _likelihood(self, y, u, of_life):
        """Log density of the readings of each life, rates and levels integrated out, shape (n,)."""
        import jax.numpy as jnp

        mu, spread, wander, gauge = of_life
        off_mean = jnp.where(self.read_, y - mu[:, None] * u, 0.0)
        both = self.read_[:, :, None] & self.read_[:, None, :]
        shared = ((mu * spread) ** 2)[:, None, None] * u[:, :, None] * u[:, None, :]
        walked = (wander**2)[:, None, None] * np.minimum(self.m_[:, :, None], self.m_[:, None, :])
        error = jnp.where(self.read_, (gauge**2)[:, None] + 1e-10, 1.0)
        cov = jnp.where(both, shared + walked, 0.0) + error[:, :, None] * np.eye(u.shape[1])
        half = jnp.linalg.cholesky(cov)
        white = jnp.squeeze(jnp.linalg.solve(half, off_mean[..., None]), -1)
        size = jnp.log(jnp.diagonal(half, axis1=1, axis2=2)).sum(axis=1)
        return -0.5 * (white**2).sum(axis=1) - size

    def _wild_readings(self, y, u, of_life, standard):
        """Rates and levels are sampled, so that each reading is a mixture of two normals about its level."""
        import jax.numpy as jnp
        import numpyro
        import numpyro.distributions as dist
        from jax.scipy.special import logsumexp

        mu, spread, wander, gauge = of_life
        n, k = y.shape
        rate = numpyro.deterministic("rate", mu * (1.0 + spread * standard("rate_away", n)))
        step = np.sqrt(
            np.diff(np.where(self.read_, self.m_, self.m_.max(axis=1)[:, None]), axis=1, prepend=0.0)
        )
        walk = wander[:, None] * jnp.cumsum(np.maximum(step, 0.0) * standard("walk_away", n, k), axis=1)
        numpyro.deterministic("walk_last", walk[:, -1])
        share = numpyro.sample("wild_share", dist.Beta(1.0, 10.0))
        size = 1.0 + numpyro.sample("wild_size", dist.LogNormal(2.0, 0.7))
        away = (y - rate[:, None] * u - walk) / gauge[:, None]
        usual = jnp.log1p(-share) - 0.5 * away**2
        odd = jnp.log(share) - 0.5 * (away / size) ** 2 - jnp.log(size)
        like = logsumexp(jnp.stack([usual, odd]), axis=0) - jnp.log(gauge)[:, None]
        numpyro.factor("readings", jnp.where(self.read_, like, 0.0).sum())

    def wear_paths(self, miles, draws, rng):
        """Wear ahead, at samples of the posterior taken at random; see :class:`Forecaster`."""
        out = np.empty((draws, *miles.shape))
        ahead = miles / self.unit_[:, None]
        for i, sample in enumerate(rng.integers(0, len(self.draws_["mu"]), draws)):
            out[i] = self._one_path(ahead, sample, rng)
        return out * self.lives_.limit[:, None]

    def _one_path(self, ahead, sample, rng):
        own = {name: x[sample] for name, x in self.draws_.items()}
        f, last = self.lives_.family, self.m_.max(axis=1)
        wander = np.exp(own["wander"])[f]
        u, u_ahead = self._effective(own, ahead, rng)
        if self.bent:
            is_power = (rng.random(self.lives_.n_families) < own["is_power"])[f][:, None]
            ways = ((bent_by_power, own["power"][f]), (bent_by_curve, own["curve"][f]))
            u, u_ahead = (
                np.where(is_power, *(way(np, x, self.far_, bend) for way, bend in ways)) for x in (u, u_ahead)
            )
        rate, level = (own["rate"], own["walk_last"]) if self.wild else self._state(own, u, wander, rng)
        steps = np.diff(np.concatenate([last[:, None], np.maximum(ahead, last[:, None])], axis=1), axis=1)
        walk = np.cumsum(np.sqrt(np.maximum(steps, 0.0)) * rng.standard_normal(ahead.shape), axis=1)
        return rate[:, None] * u_ahead + level[:, None] + wander[:, None] * walk

    def _effective(self, own, ahead, rng):
        """Distance at the readings and ahead, weighted by what the seasons do, those to come drawn."""
        beside = self.beside
        if beside is None or beside.season_miles is None:
            return self.m_, ahead
        factor = np.exp(own["season"])[beside.engine]
        run = (beside.season_miles / self.unit_[:, None, None] * factor[:, None, :]).sum(axis=2)
        whole, last = run.max(axis=1), self.m_.max(axis=1)
        a_season = (beside.a_season / self.unit_)[:, None]
        to_come = np.exp(own["season_sd"] * rng.standard_normal((len(own["season"]), 60)))[beside.engine]
        ends = np.concatenate([np.zeros((len(run), 1)), np.cumsum(to_come * a_season, axis=1)], axis=1)
        gone = np.maximum(ahead - last[:, None], 0.0) / a_season
        at = np.minimum(gone.astype(int), 59)
        begun = np.take_along_axis(ends, at, axis=1)
        rest = (gone - at) * a_season * np.take_along_axis(to_come, at, axis=1)
        return run, whole[:, None] + begun + rest

    def _state(self, own, u, wander, rng):
        """Rate and Brownian level at the last reading of each life, drawn given its readings."""
        f = self.lives_.family
        gauge, mu = np.exp(own["gauge"])[f], own["mu"][f]
        if self.two:
            fast = rng.random(len(mu)) < own["is_fast"]
            mu = mu * np.where(fast, np.exp(own["faster"])[f], 1.0)
        prior = np.stack([(mu * np.exp(own["spread"])[f]) ** 2, wander**2 * self.m_.max(axis=1)], axis=1)
        y = self.y_ - mu[:, None] * u
        if self.beside is not None and self.beside.second is not None:
            y = y - np.where(self.beside.second, own["off"][f][:, None], 0.0)
        walked = np.minimum(self.m_[:, :, None], self.m_[:, None, :]) * (wander**2)[:, None, None]
        cov = prior[:, 0, None, None] * u[:, :, None] * u[:, None, :] + walked
        cov = np.where(self.read_[:, :, None] & self.read_[:, None, :], cov, 0.0)
        cov += np.where(self.read_, (gauge**2)[:, None] + 1e-10, 1.0)[:, :, None] * np.eye(u.shape[1])
        cross = np.stack([prior[:, :1] * u, (wander**2)[:, None] * self.m_], axis=1)
        cross = np.where(self.read_[:, None, :], cross, 0.0)
        gain = np.linalg.solve(cov, np.swapaxes(cross, 1, 2))
        mean = np.einsum("nkt,nk->nt", gain, np.where(self.read_, y, 0.0))
        left = -np.einsum("ntk,nkv->ntv", cross, gain)
        left[:, 0, 0] += prior[:, 0]
        left[:, 1, 1] += prior[:, 1]
        half = _square_root(left)
        drawn = mean + np.einsum("ntv,nv->nt", half, rng.standard_normal(mean.shape))
        return mu + drawn[:, 0], drawn[:, 1]


def _square_root(cov):
    """A factor of each covariance, also of one that rounding leaves a hair short of definite."""
    sizes, axes = np.linalg.eigh(cov)
    return axes * np.sqrt(np.maximum(sizes, 0.0))[:, None, :]


def bent_by_power(xp, u, far, log_power):
    """Distance bent by a power, shape as ``u``; ``far`` and its slope's mean to there stay."""
    away = xp.exp(log_power)[:, None] * xp.log(xp.maximum(u / far[:, None], 1e-9))
    return xp.where(u > 0, far[:, None] * xp.exp(xp.minimum(away, 50.0)), 0.0)


def bent_by_curve(xp, u, far, curve):
    """Distance bent so that the rate goes as exp(curve x distance), shape as ``u``; ``far`` stays."""
    curve, far = xp.where(xp.abs(curve) < 1e-4, 1e-4, curve)[:, None], far[:, None]
    return far * xp.expm1(xp.minimum(curve * u, 50.0)) / xp.expm1(curve * far)
