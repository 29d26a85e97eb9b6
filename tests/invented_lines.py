"""Invented lines with known parameters, for calibration: every number of them is ours."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from landwise.printing.transfer import transfer_arrays


@dataclass(frozen=True)
class InventedLine:
    """What a line really is."""

    score: float = 0.5  # place in the transfer band
    common: float = 0.5  # share of a deposit's spread that a print has in common
    print_mm: float = 0.008  # standard deviation of the print's offset
    part_um: float = 8.0  # of a part beyond it
    turn_mrad: float = 0.05
    stretch: float = 0.1  # um/mm
    ageing: float = 0.0  # per hour
    times: Mapping[float, float] = field(default_factory=dict)  # spread over the shipped one, by area ratio


def deposits(
    line: InventedLine, seed: int, panels: int = 40, ratios: tuple[float, ...] = (0.55, 0.66, 0.85)
) -> tuple[np.ndarray, np.ndarray, np.ndarray, dict[str, np.ndarray], np.ndarray]:
    """Panel, place, part, values and hours of an invented inspection: 20 parts of 4 deposits for each area ratio."""
    rng = np.random.default_rng(seed)
    pads, parts = 4, 20 * len(ratios)
    places = pads * parts
    panel, place = np.divmod(np.arange(panels * places), places)
    part = place // pads
    ratio = np.array(ratios)[part % len(ratios)]
    band = transfer_arrays(ratio)
    side = np.where(line.score > 0, band["high"] - band["mean"], band["mean"] - band["low"])
    hours = np.arange(panels) * 0.1
    z = line.common * rng.standard_normal(panels)[panel]
    z += np.sqrt(1 - line.common**2) * rng.standard_normal(len(panel))
    z *= np.array([line.times.get(one, 1.0) for one in ratios])[part % len(ratios)]
    mean = band["mean"] + line.score / 1.6449 * side
    volume = mean * (1 + line.ageing * (hours - hours.mean())[panel] + band["sd"] / band["mean"] * z)
    x, y = (rng.uniform(-60, 60, parts)[part] for _ in "xy")
    own = [line.part_um * rng.standard_normal(parts)[part] + 4 * rng.standard_normal(len(part)) for _ in "xy"]
    shift = [1000 * line.print_mm * rng.standard_normal(panels)[panel] for _ in "xy"]
    values = {
        "volume": volume,
        "area_ratio": ratio,
        "x": x,
        "y": y,
        "offset_x": shift[0] - line.turn_mrad * y + line.stretch * x + own[0],
        "offset_y": shift[1] + line.turn_mrad * x + line.stretch * y + own[1],
    }
    return panel, place, part, values, hours


def export(
    line: InventedLine, seed: int, panels: int = 12, ratios: tuple[float, ...] = (0.55, 0.66, 0.85)
) -> list[str]:
    """The same as rows of a real line's export: its columns (PHM Europe data challenge 2022), our numbers."""
    panel, place, part, values, hours = deposits(line, seed, panels, ratios)
    rows = [
        "PanelID,FigureID,ComponentID,PinNumber,PadID,Date,Time,PosX(mm),PosY(mm),PadType,Volume(%),Height(um),Area(%),"
        "OffsetX(%),OffsetY(%),SizeX,SizeY,Volume(um3),Area(um2),Shape(um),Result"
    ]
    for k in range(len(panel)):
        # A square of side 4 · foil · area ratio, under a foil of 100 um.
        side = 0.4 * values["area_ratio"][k]
        minutes = round(hours[panel[k]] * 60)
        moment = f"2026-03-02,{6 + minutes // 60:02d}:{minutes % 60:02d}:00"
        volume = values["volume"][k]
        offsets = [values[f"offset_{axis}"][k] / (side * 10) for axis in "xy"]
        rows.append(
            f"P{panel[k]:04d},1,C{part[k]},{place[k] % 4 + 1},{place[k]},{moment},{values['x'][k]:.3f},"
            f"{values['y'][k]:.3f},0,{100 * volume:.4f},{110 * volume:.1f},98.5,{offsets[0]:.4f},{offsets[1]:.4f},"
            f"{side:.4f},{side:.4f},{volume * side * side * 1e8:.0f},{side * side * 1e6:.0f},0,GOOD"
        )
    return rows
