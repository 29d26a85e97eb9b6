"""What is known of a line before it was measured, as draws that every part and every option is worked at.

One draw is one line as it may be: a score for every term of its scatter, levels of the causes that no geometry knows,
and how far packages differ beyond what the model sees. The shipped draws were conditioned on the counts of a published
line (docs/defect_levels.md); a line that counted its own replaces them.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property
from importlib import resources
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.drawn import MOST_SCORE, names
from landwise.assembly.scatter import Scatter
from landwise.errors import InputError
from landwise.memory import known
from landwise.outlines import GRIDS, LEADED

Array = NDArray[np.float64]
JointClass = Literal["lead", "leadless", "ball"]
Mechanism = Literal["bridges", "opens", "moved", "other"]
MECHANISMS: tuple[Mechanism, ...] = ("bridges", "opens", "moved", "other")
MODELLED: tuple[Mechanism, ...] = ("bridges", "opens", "moved")
PER_MILLION = 1e6
# One line against another and one lot against the next: √(0.65² + 0.83²), see docs/defect_levels.md.
LINE_SPREAD = 1.05
# What a class of joints whose levels nobody published may differ by from those whose levels were: as one line from
# another.
CLASS_SPREAD = 0.83
ANCHORED: tuple[JointClass, ...] = ("lead",)


def joint_class(family: str) -> JointClass:
    """The class of a family's joints.

    >>> joint_class("wafer-level"), joint_class("gull-wing quad")
    ('ball', 'lead')
    """
    return "ball" if family in GRIDS else "lead" if family in LEADED else "leadless"


@dataclass(frozen=True)
class Others:
    """Expected defects by causes that no geometry knows, per million: arrays over draws.

    Parameters
    ----------
    part, joint, gap : array
        For each part, each joint, and each pair of facing deposits.
    """

    part: Array
    joint: Array
    gap: Array


@dataclass(frozen=True, eq=False)
class Knowledge:
    """Draws of everything that rates hang on and that is not known.

    Parameters
    ----------
    name : str
        Whose they are.
    scores : array
        Standard normal scores of the scatter's terms, (draws, names), in the order of `drawn.names()`.
    line : array
        Logarithm of what this line's levels stand over those of the line that was counted, (draws,); one for all parts.
    others : mapping of joint class to Others
        Causes that no geometry knows.
    spread : array
        Standard deviation of what one package differs from another beyond the model, natural logarithm, (draws,).
    factors : mapping of (joint class, mechanism) to array
        What the modelled rates of a class are multiplied by, (draws,); one where none is given.
    anchored : tuple of joint class
        Classes whose levels were counted; the others get `CLASS_SPREAD` on top.
    before : Knowledge, optional
        The draws these were taken from.
    places : tuple of int
        Which of them.
    """

    name: str
    scores: Array
    line: Array
    others: Mapping[JointClass, Others]
    spread: Array
    factors: Mapping[tuple[JointClass, str], Array] = field(default_factory=dict)
    anchored: tuple[JointClass, ...] = ANCHORED
    before: Knowledge | None = None
    places: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if self.scores.shape != (len(self.line), len(names())):
            raise InputError(
                "draws need a score for every term",
                found=f"{self.scores.shape}",
                expected=f"({len(self.line)}, {len(names())})",
            )

    @property
    def draws(self) -> int:
        """How many there are."""
        return len(self.line)

    @cached_property
    def deposits(self) -> Array:
        """Scores of the spread of deposits that a line measured, (draws,).

        The counts that the shipped draws were conditioned on are another line's, printed at the shipped spread: they
        say nothing of where a line is in the interval of its own measurement. So these stand beside the draws, and a
        line without a measured spread has the shipped draws as they are.
        """
        if self.before is not None:
            found: Array = self.before.deposits[list(self.places)]
            return found
        return standing("measured spread of deposits", self.draws).clip(-MOST_SCORE, MOST_SCORE)

    @cached_property
    def key(self) -> str:
        """Tells this knowledge from any other by its content."""
        digest = hashlib.blake2b(digest_size=16)
        for array in (self.scores, self.line, self.spread):
            digest.update(np.ascontiguousarray(array).tobytes())
        for name in sorted(self.others):
            one = self.others[name]
            digest.update(name.encode())
            for array in (one.part, one.joint, one.gap):
                digest.update(np.ascontiguousarray(array).tobytes())
        for where in sorted(self.factors):
            digest.update(repr(where).encode() + np.ascontiguousarray(self.factors[where]).tobytes())
        digest.update(repr((self.anchored, self.places)).encode())
        return digest.hexdigest()

    def middle(self, scatter: Scatter) -> Scatter:
        """A line with its terms where these draws put them on average; what the study states stays."""
        return scatter.drawn(dict(zip(names(), self._mean, strict=True))).settled()

    @cached_property
    def _mean(self) -> tuple[float, ...]:
        """Of each term over all draws."""
        return tuple(self.scores.mean(axis=0).tolist())

    def lift(self, name: str, kind: JointClass, mechanism: str) -> float:
        """By how much a line's own counts lift the level of a package's mechanism: 1 where it counted nothing."""
        if self.before is None:
            return 1.0
        what = "bridges" if mechanism == "bridges" else "rest"
        now, then = (
            float(np.mean(np.exp(one.line) * one.factors.get((kind, mechanism), 1.0) * one.package(name, kind, what)))
            for one in (self, self.before)
        )
        return now / then

    def package(self, name: str, kind: JointClass, what: str) -> Array:
        """What one package's level is multiplied by at every draw, with mean one over its own spread.

        The same package gets the same numbers whatever its print, so that they drop out of a ratio of two prints; a
        class without counts gets a common number of its own on top.
        """
        if self.before is not None:
            return self.before.package(name, kind, what)[list(self.places)]
        found: Array = np.exp(self.spread * standing(f"package {name} {what}", self.draws) - self.spread**2 / 2)
        if kind not in self.anchored:
            found = found * np.exp(CLASS_SPREAD * standing(f"class {kind}", self.draws))
        return found


@cache
def standing(name: str, draws: int) -> Array:
    """Standard normal numbers that follow from a name, evenly spread over the draws.

    >>> bool(abs(standing("an example", 100).mean()) < 1e-12)
    True
    """
    seed = int.from_bytes(hashlib.blake2b(name.encode(), digest_size=7).digest(), "big")
    even = known(lambda: _even(draws), "evenly spread normal numbers", draws)
    found: Array = np.random.default_rng(seed).permutation(even)
    found.setflags(write=False)
    return found


def _even(draws: int) -> Array:
    """Standard normal numbers at the middles of shares of equal size, from the least up."""
    from scipy.special import ndtri

    even: Array = ndtri((np.arange(draws) + 0.5) / draws)
    return even


@cache
def default_knowledge() -> Knowledge:
    """The shipped draws.

    >>> default_knowledge().draws
    200
    """
    text = resources.files("landwise.assembly").joinpath("known_draws.toml").read_text(encoding="utf-8")
    table = tomllib.loads(text)
    if tuple(table["names"]) != names():
        raise InputError(
            "the shipped draws belong to other terms of scatter", place="known_draws.toml", expected=", ".join(names())
        )
    part, joint, gap = (np.array(table[name], dtype=float) for name in ("part", "joint", "gap"))
    others = Others(part, joint, gap)
    return Knowledge(
        name="shipped",
        scores=np.array(table["scores"], dtype=float),
        line=np.array(table["line"], dtype=float),
        others={"lead": others, "leadless": others, "ball": others},
        spread=np.array(table["spread"], dtype=float),
    )
