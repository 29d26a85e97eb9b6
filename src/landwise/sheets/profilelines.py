"""Lines of a side view: leads as ribbons, hollow fillets, rounded edges, the wavy end of a board."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from landwise.joints.leadform import SHOULDER_SHARE
from landwise.outlines.model import Outline
from landwise.outlines.patterns import terminals
from landwise.sheets.look import FINE, Stroke
from landwise.sheets.svg import Area, line


def columns(outline: Outline) -> list[tuple[float, float, float]]:
    """x, extent along x, and width where seen end on (0 for a lead in profile), of the front row. [mm]"""
    found: dict[float, tuple[float, float, float]] = {}
    every = terminals(outline)
    below = any(terminal.side == "bottom" for terminal in every)
    for terminal in every:
        key = round(terminal.x_mm, 4)
        if terminal.side == "centre":
            continue
        if terminal.side == "bottom" or (terminal.side == "top" and key not in found):
            if terminal.side == "bottom" or not below:
                found[key] = (terminal.x_mm, terminal.width_mm, terminal.width_mm)
        elif terminal.side in ("left", "right", "grid"):
            found.setdefault(key, (terminal.x_mm, terminal.length_mm, 0.0))
    # Leads in profile last: they stand in front of the row behind them only where they overlap it.
    return sorted(found.values(), key=lambda column: (column[2] > 0, column[0]))


def hollow(low: tuple[float, float], high: tuple[float, float], steps: int = 8) -> list[tuple[float, float]]:
    """A hollow curve from a land's edge up a terminal: level at the bottom, steep at the top."""
    turn = np.linspace(0, math.pi / 2, steps + 1)
    x = low[0] + (high[0] - low[0]) * np.sin(turn)
    z = low[1] + (high[1] - low[1]) * (1 - np.cos(turn))
    return [(float(a), float(b)) for a, b in zip(x, z, strict=True)]


def break_line(x1: float, x2: float, y: float) -> Area:
    """A freehand edge where the board is broken off."""
    xs = np.linspace(x1, x2, 49)
    waves = max(1, round((x2 - x1) / 9))
    ys = y + 0.45 * np.sin(np.linspace(0, 2 * math.pi * waves, 49))
    return line(np.column_stack([xs, ys]), Stroke("graphite", FINE))


def lead_profile(outline: Outline, t: float, base: float, x: float, foot: float) -> NDArray[np.float64]:
    """Outline of a right-hand lead of thickness t, its foot at height base, (x, z). [mm]"""
    half_body = outline.body_width_mm.nom / 2
    if outline.family == "flat-lead dual":
        inner = min(half_body, x + foot / 2) - 0.02
        tip = x + foot / 2
        return np.array([(inner, base), (tip, base), (tip, base + t), (inner, base + t)])
    exit_z = base + (outline.standoff_mm.nom + outline.height_mm.nom) / 2
    if outline.family == "dual in-line":
        length = outline.foot_mm.nom if outline.foot_mm else 3.0
        pin = np.array([(half_body, exit_z), (x, exit_z), (x, base - length)])
        return ribbon(pin, t, 1.2 * t)
    if outline.family.startswith("J-lead"):  # down along the body's side, then bent in under it
        bend = x + foot / 2 - t / 2
        low = base + t / 2
        hook = np.array([(half_body - 0.02, exit_z), (bend, exit_z), (bend, low), (x - foot / 2, low)])
        return ribbon(hook, t, 1.5 * t)
    heel, tip_x = x - foot / 2, x + foot / 2
    run = (1 - SHOULDER_SHARE) * max(heel - half_body, 0.02)
    middle = base + t / 2
    slope = math.atan2(exit_z - middle, run)
    # The foot is measured to the heel's outside at the end of its bend (inner radius as thick as the lead).
    corner = heel + 2 * t * math.sin(slope) - 1.5 * t * math.tan(slope / 2)
    knee = max(corner - run, half_body + 0.01)
    path = np.array([(half_body - 0.02, exit_z), (knee, exit_z), (corner, middle), (tip_x, middle)])
    return ribbon(path, t, 1.5 * t)


def ribbon(path: NDArray[np.float64], thickness: float, radius: float) -> NDArray[np.float64]:
    """A strip of even thickness along a bent line: the outline of a formed lead.

    Parameters
    ----------
    path : (n, 2) array
        Corners of its middle line. [mm]
    thickness : float
    radius : float
        Bend radius of the middle line, made smaller where the legs are short. [mm]
    """
    middle = [path[0]]
    for before, corner, after in zip(path[:-2], path[1:-1], path[2:], strict=True):
        middle.extend(rounded(before, corner, after, radius))
    middle.append(path[-1])
    line_ = np.array(middle)
    steps = np.diff(line_, axis=0)
    directions = steps / np.linalg.norm(steps, axis=1, keepdims=True)
    tangents = np.vstack([directions[:1], directions[:-1] + directions[1:], directions[-1:]])
    tangents /= np.linalg.norm(tangents, axis=1, keepdims=True)
    normals = np.column_stack([-tangents[:, 1], tangents[:, 0]]) * thickness / 2
    return np.vstack([line_ + normals, (line_ - normals)[::-1]])


def rounded(
    before: NDArray[np.float64], corner: NDArray[np.float64], after: NDArray[np.float64], radius: float
) -> list[NDArray[np.float64]]:
    one, other = before - corner, after - corner
    a, b = float(np.linalg.norm(one)), float(np.linalg.norm(other))
    cosine = float(np.clip(one @ other / (a * b), -1, 1))
    turn = math.pi - math.acos(cosine)
    if turn < 1e-6:
        return [corner]
    cut = min(radius * math.tan(turn / 2), 0.45 * a, 0.45 * b)
    start, end = corner + one / a * cut, corner + other / b * cut
    share = np.linspace(0, 1, 9)[:, None]
    curve = (1 - share) ** 2 * start + 2 * share * (1 - share) * corner + share**2 * end
    return list(curve)
