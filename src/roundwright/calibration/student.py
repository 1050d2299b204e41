"""Student's t: how many standard uncertainties hold a given share, for any degrees of freedom."""

from __future__ import annotations

import math
from functools import lru_cache

#: where the expansion in 1/ν is used; its first term left out is below 1e-12 there.
_MANY = 1000.0
#: where the share is expanded likewise, and past how many deviations nothing is left of it.
_VERY_MANY = 1e4
_FAR = 20.0
_ENOUGH = 1e-16
#: where Newton's steps end: the next one would be below rounding; and when they end at the latest.
_CLOSE, _STEPS = 1e-9, 200
_TINY = 1e-300


@lru_cache(maxsize=1024)
def coverage_factor(freedom: float, level: float = 0.95) -> float:
    """The two-sided quantile t: |T| <= t with probability `level`, T of Student's distribution.

    `freedom` is the degrees of freedom, at least 1, or infinity. To a relative 1e-10 or better. Source:
    GUM (JCGM 100:2008) annex G.3 for its use; Abramowitz and Stegun 26.5.8, 26.7.1 and 26.7.5 for the
    computation. Raises ValueError outside 0 < level < 1 and freedom >= 1.
    """
    if not 0.0 < level < 1.0 or not freedom >= 1.0:
        raise ValueError(f"no quantile for level {level} and {freedom} degrees of freedom")
    normal = _normal_quantile(level)
    if freedom >= _MANY:
        return _expanded(normal, freedom)
    low, high = normal, math.inf
    t = max(normal, _expanded(normal, freedom))
    for _ in range(_STEPS):  # Newton's, kept between what is too small and what is too large
        short = level - _within(t, freedom)
        low, high = (t, high) if short > 0.0 else (low, t)
        better = t + short / (2.0 * _density(t, freedom))
        if not low <= better <= high:
            better = 2.0 * low if math.isinf(high) else 0.5 * (low + high)
        if abs(better - t) <= _CLOSE * t:
            return better
        t = better
    return t


def _density(t: float, freedom: float) -> float:
    """Student's density at t (A&S 26.7.1, differentiated)."""
    half = 0.5 * (freedom + 1.0)
    front = math.lgamma(half) - math.lgamma(0.5 * freedom) - 0.5 * math.log(math.pi * freedom)
    return math.exp(front - half * math.log1p(t * t / freedom))


def share_within(t: float, freedom: float) -> float:
    """P(|T| <= t) of Student's distribution, t at least 0, to 1e-10; `freedom` from 1 to infinity.

    Source: Abramowitz and Stegun 26.7.1; for many degrees of freedom the normal distribution and two
    terms in 1/ν (Fisher's expansion, the inverse of 26.7.5). Raises ValueError outside that range.
    """
    if not t >= 0.0 or not freedom >= 1.0:
        raise ValueError(f"no share within {t} for {freedom} degrees of freedom")
    if freedom < _VERY_MANY:
        return 1.0 if math.isinf(t) else _within(t, freedom)
    share = math.erf(t / math.sqrt(2.0))
    if math.isinf(freedom) or t > _FAR:
        return share
    s = t * t
    density = 2.0 * math.exp(-0.5 * s) / math.sqrt(2.0 * math.pi)
    first = t * (s + 1.0) / 4.0
    second = t * (((3.0 * s - 7.0) * s - 5.0) * s - 3.0) / 96.0
    return share - density * (first + second / freedom) / freedom


def _within(t: float, freedom: float) -> float:
    """P(|T| <= t) = 1 − I_x(ν/2, 1/2), x = ν/(ν + t²) (A&S 26.7.1)."""
    square = t * t
    outside = freedom / (freedom + square)
    return 1.0 - _incomplete_beta(freedom / 2.0, 0.5, outside, square / (freedom + square))


def _incomplete_beta(a: float, b: float, x: float, rest: float) -> float:
    """The regularised I_x(a, b), with `rest` = 1 − x given without cancellation."""
    if x <= 0.0 or rest <= 0.0:
        return 0.0 if x <= 0.0 else 1.0
    log_front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log(rest)
    front = math.exp(log_front)
    if x < (a + 1.0) / (a + b + 2.0):
        return front / (a * _fraction(a, b, x))
    return 1.0 - front / (b * _fraction(b, a, rest))


def _fraction(a: float, b: float, x: float) -> float:
    """The continued fraction of A&S 26.5.8 below its bar, by the modified method of Lentz."""
    value, upper, lower = 1.0, 1.0, 0.0
    for step in range(1, 10_000):
        m = step // 2
        if step % 2:
            term = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        else:
            term = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        lower = 1.0 / _off_zero(1.0 + term * lower)
        upper = _off_zero(1.0 + term / upper)
        value *= upper * lower
        if abs(upper * lower - 1.0) < _ENOUGH:
            break
    return value


def _off_zero(value: float) -> float:
    return value if abs(value) > _TINY else _TINY


def _expanded(z: float, freedom: float) -> float:
    """The quantile as the normal one and four terms in 1/ν (A&S 26.7.5)."""
    if math.isinf(freedom):
        return z
    s = z * z
    terms = (
        z * (s + 1) / 4,
        z * ((5 * s + 16) * s + 3) / 96,
        z * (((3 * s + 19) * s + 17) * s - 15) / 384,
        z * ((((79 * s + 776) * s + 1482) * s - 1920) * s - 945) / 92160,
    )
    return z + sum(term / freedom ** (power + 1) for power, term in enumerate(terms))


def _normal_quantile(level: float) -> float:
    """The z with P(|Z| <= z) = level, by bisection on erf and, where erf is near 1, on erfc."""
    tail = 1.0 - level
    low, high = 0.0, 10.0
    while True:
        middle = 0.5 * (low + high)
        if not low < middle < high:
            return middle
        scaled = middle / math.sqrt(2.0)
        below = math.erf(scaled) < level if level < 0.5 else math.erfc(scaled) > tail
        low, high = (middle, high) if below else (low, middle)
