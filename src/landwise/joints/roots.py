"""Root of one function of one number, without the half second that loading a library for it takes."""

from __future__ import annotations

from collections.abc import Callable

from landwise.errors import InputError

MOST_STEPS = 200


def root(function: Callable[[float], float], low: float, high: float, *, within: float = 1e-14) -> float:
    """Where a function changes sign between two places, by Chandrupatla's method.

    Parameters
    ----------
    function : callable
        Continuous, or with one jump.
    low, high : float
        Places with values of unlike sign.
    within : float
        Relative and absolute accuracy.

    Raises
    ------
    InputError
        If the signs are alike.

    References
    ----------
    T. R. Chandrupatla, Advances in Engineering Software 28 (1997) 145: inverse quadratic steps where three points
    allow them, halving elsewhere.

    Examples
    --------
    >>> round(root(lambda x: x * x - 2, 0, 2), 12)
    1.414213562373
    """
    a, b = high, low
    at_a, at_b = function(a), function(b)
    if at_a == 0:
        return a
    if at_b == 0:
        return b
    if (at_a > 0) == (at_b > 0):
        raise InputError("no change of sign", found=f"{at_b:g} and {at_a:g}", expected="values of unlike sign")
    c, at_c, share = a, at_a, 0.5
    for _ in range(MOST_STEPS):
        x = a + share * (b - a)
        at_x = function(x)
        if (at_x > 0) == (at_a > 0):
            c, at_c = a, at_a
        else:
            c, at_c, b, at_b = b, at_b, a, at_a
        a, at_a = x, at_x
        best = a if abs(at_a) < abs(at_b) else b
        slack = (2 * abs(best) * within + within) / abs(b - a) if b != a else 1.0
        if slack >= 0.5 or at_a == 0:
            return best
        share = 0.5
        xi, phi = (a - b) / (c - b), (at_a - at_b) / (at_c - at_b)
        if phi**2 < xi and (1 - phi) ** 2 < 1 - xi:
            share = at_a / (at_b - at_a) * at_c / (at_b - at_c)
            share += (c - a) / (b - a) * at_a / (at_c - at_a) * at_b / (at_c - at_b)
        share = min(max(share, slack), 1 - slack)
    return best
