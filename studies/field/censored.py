"""Likelihood of the log peaks of one placement, some of them bounds, with an error that its pulls share.

    y_i = f_i + t + e_i,   t ~ N(0, shared^2),   e_i ~ N(0, s_i^2)         of a bound only y_i >= b_i is known
    p = N(y_u; f_u, diag s_u^2 + shared^2 1 1') * E_t[prod Phi((f_i + t - b_i) / s_i)]

The measured rows u are in closed form (Sherman & Morrison), with t after them normal of mean m and variance v; the
expectation over it is closed for one bound, and the trapezoidal rule for more, its step no longer than what the
narrowest Phi needs: exp(-2 pi^2 s^2 / step^2) is its error. Logarithms of loads in kN, all without unit [-].

Limits: FINEST steps to a standard deviation of t; a placement of bounds alone with s_i below shared / 100 is met to
about a hundredth.
"""

from __future__ import annotations

import numpy as np
from scipy.special import log_ndtr, logsumexp

from .pulls import Array, Flags

REACH, COARSEST, FINEST = 5.0, 0.6, 80  # in standard deviations of t


def log_likelihood(misses: Array, sd: Array, shared: Array, is_bound: Flags) -> Array:
    """Log of the density of a placement's rows [-], whatever the leading shape.

    misses (..., n) : y - f of each row [-].  sd (..., n) : s of each [-], more than 0.  shared (...) : [-], 0 or more.
    is_bound (n,) : which rows are bounds.
    """
    measured = ~is_bound
    weight = sd[..., measured] ** -2.0
    pull, stiff = (weight * misses[..., measured]).sum(-1), weight.sum(-1)
    variance = shared**2 / (1 + shared**2 * stiff)
    quadratic = (weight * misses[..., measured] ** 2).sum(-1) - variance * pull**2
    constants = np.log(2 * np.pi / weight).sum(-1) + np.log1p(shared**2 * stiff)
    found: Array = -0.5 * (constants + quadratic)
    if not is_bound.any():
        return found
    mean, root = variance * pull, np.sqrt(variance)
    over, own = mean[..., None] - misses[..., is_bound], sd[..., is_bound]
    if is_bound.sum() == 1:
        return found + log_ndtr(over[..., 0] / np.sqrt(own[..., 0] ** 2 + variance))
    if not np.any(root > 0):
        return found + log_ndtr(over / own).sum(-1)
    step = max(min(COARSEST, 1.25 / float(np.max(root[..., None] / own))), 1 / FINEST)
    nodes = step * np.arange(-round(REACH / step), round(REACH / step) + 1)
    weights = np.exp(-0.5 * nodes**2)
    terms = [
        log_ndtr((over + (root * node)[..., None]) / own).sum(-1) + np.log(weight)
        for node, weight in zip(nodes, weights / weights.sum(), strict=True)
    ]
    return found + logsumexp(terms, axis=0)
