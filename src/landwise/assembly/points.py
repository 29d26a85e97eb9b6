"""Points to sample rare defects at: scrambled sequences under a mixture of densities that reach where defects happen.

Each density is normal with its own mean and width along each number. One is wide about the middle; the others were
fitted to where a mechanism's defects come from. Every point is weighted by the true density over that of the whole
mixture (the balance heuristic of Veach and Guibas, 1995, from memory), so no weight exceeds the number of densities
by more than the wide one falls short of the true one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.sobol import shifted_normals
from landwise.content import number_of

Array = NDArray[np.float64]
PILOT = 512  # points of each stage of a fit
STAGES = 9
KEPT = 0.12  # least share of effective points of a stage
LEAST_WIDTH, MOST_WIDTH, LOOSE = 0.7, 3.0, 1.2


@dataclass(frozen=True)
class Density:
    """Independent normal numbers: their means and widths."""

    mean: Array
    width: Array

    def log(self, numbers: Array) -> Array:
        """Logarithm of the density at points (numbers, points), but for a constant that all densities share."""
        apart = (numbers - self.mean[:, None]) / self.width[:, None]
        found: Array = -0.5 * np.einsum("ij,ij->j", apart, apart) - float(np.log(self.width).sum())
        return found


@dataclass(frozen=True)
class Mixture:
    """Densities drawn from in equal parts; `ways` says what each was fitted to, where that matters."""

    densities: tuple[Density, ...]
    ways: tuple[str, ...] = ()

    def towards(self, *ways: str) -> tuple[Density, ...]:
        """Those that were fitted to these."""
        return tuple(one for one, way in zip(self.densities, self.ways, strict=True) if way in ways)

    def drawn(self, seeds: Sequence[int], start: int, count: int) -> tuple[Array, Array]:
        """Points and weights: (numbers, seeds × densities × count) and (seeds, densities × count).

        `count` is a power of two and divides `start`; the same seed gives the same points wherever a run began.
        """
        size = self.densities[0].mean.size
        parts = []
        for number, density in enumerate(self.densities):
            block = shifted_normals(size, number + 1, [seed_of(seed, number) for seed in seeds], start, count)
            parts.append(density.mean[:, None, None] + density.width[:, None, None] * block)
        points = np.concatenate(parts, axis=2).reshape(size, -1)
        logs = np.array([density.log(points) for density in self.densities])
        true = -0.5 * np.einsum("ij,ij->j", points, points)
        top = logs.max(axis=0)
        whole = top + np.log(np.mean(np.exp(logs - top), axis=0))
        weights: Array = np.exp(true - whole).reshape(len(seeds), -1)
        return points, weights


def seed_of(*content: object) -> int:
    """A seed that follows from content: the same on every machine and in every process.

    >>> seed_of("a part", 0.1) == seed_of("a part", 0.1) != seed_of("a part", 0.2)
    True
    """
    return number_of(content, 7)


def wide(widths: Sequence[float]) -> Density:
    """About the middle, as much wider as given."""
    return Density(np.zeros(len(widths)), np.asarray(widths, dtype=float))


def fitted(chance: Callable[[Array], Array], start: Density, seed: int) -> Density | None:
    """The density that a mechanism's defects come from; None where none was met.

    Parameters
    ----------
    chance : callable
        From points (numbers, points) to the expected defects at each.
    start : Density
        Where the search begins.

    Notes
    -----
    Cross-entropy in stages: the chance is raised to a power that leaves enough points to fit a mean and a width
    from, and the power rises to one. Widths are kept loose, so that no direction is lost.
    """
    density, power = start, 0.0
    for stage in range(STAGES):
        block = shifted_normals(start.mean.size, 11, [seed_of(seed, "pilot", stage)], 0, PILOT)[:, 0]
        points = density.mean[:, None] + density.width[:, None] * block
        with np.errstate(divide="ignore"):
            logs = np.log(chance(points))
        if not np.isfinite(logs).any():
            return None if stage == 0 else density
        base = -0.5 * np.einsum("ij,ij->j", points, points) - density.log(points)
        before, power = power, _power(base, logs, power)
        weights = _shares(base + power * logs)
        mean = points @ weights
        spread = np.sqrt(np.maximum(0.0, (points - mean[:, None]) ** 2 @ weights))
        density = Density(mean, np.clip(LOOSE * spread, LEAST_WIDTH, MOST_WIDTH))
        if power >= 1 and before >= 1:
            break
    return density


def _shares(logs: Array) -> Array:
    found: Array = np.exp(logs - logs.max())
    shares: Array = found / found.sum()
    return shares


def _power(base: Array, logs: Array, least: float) -> float:
    """The largest power at which enough points still count."""

    def effective(power: float) -> float:
        tilted = base + power * logs
        tilted -= tilted.max()
        np.exp(tilted, out=tilted)
        return float(tilted.sum()) ** 2 / float(tilted @ tilted)

    logs = np.where(np.isfinite(logs), logs, -1e4)
    if effective(1.0) >= KEPT * logs.size:
        return 1.0
    low, high = least, 1.0
    for _ in range(12):
        middle = (low + high) / 2
        low, high = (middle, high) if effective(middle) >= KEPT * logs.size else (low, middle)
    return max(low, least + 0.02)
