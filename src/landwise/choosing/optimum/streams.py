"""Random numbers that follow from what is drawn, not from when: reordering or adding inputs moves no other's draws."""

from __future__ import annotations

import numpy as np

from landwise.content import number_of


def stream(seed: int, *content: object) -> np.random.Generator:
    """A generator of its own for one thing that is drawn.

    Parameters
    ----------
    seed : int
        Of the whole study of draws, from 0.
    content : objects
        What is drawn, told by its `repr`: the same numbers on every machine and in every process.

    Examples
    --------
    >>> first, again, other = (stream(1, "price", name).random() for name in ("a", "a", "b"))
    >>> first == again, first == other
    (True, False)
    """
    return np.random.Generator(np.random.SFC64(np.random.SeedSequence([seed, number_of(content, 16)])))
