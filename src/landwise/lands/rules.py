"""The rules a board maker and an assembler hold land patterns to, each default with its reason and source."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import Literal

from landwise.errors import InputError

Rounding = Literal["none", "fine", "coarse"]
STEP_MM: Mapping[str, float] = MappingProxyType({"none": 0.0, "fine": 0.01, "coarse": 0.05})
# Drawn sizes are exact to the nanometre; anything closer to a step is on it.
ON_STEP = 1e-9


@dataclass(frozen=True)
class LandRules:
    """Tolerances and minima of land patterns. [mm] Reasons and sources in `RULE_REASONS`.

    Parameters
    ----------
    fabrication_mm : float
        Difference between the largest and smallest land a board maker delivers, :math:`F`. [mm]
    placement_mm : float
        Diameter of the circle in which a part is placed, :math:`P`. [mm]
    rounding : {"none", "fine", "coarse"}
        Step of land sizes: none, 0.01 or 0.05 mm. Outer spans go up, inner gaps down, widths to the nearest.
    rms : bool
        Relieve the gap between terminals by root sum of squares (the two-foot form); False keeps the worst case.
    trim_heels : bool
        End gull-wing lands at the edge of the smallest body instead of reaching under it.
    copper_gap_mm : float
        Gap between neighbouring lands that is kept while a land stays at least half the pitch wide. [mm]
    least_copper_gap_mm : float
        Gap between any two lands that is never undercut by a calculated pattern. [mm]
    least_covered_gap_mm : float
        The same for copper that lies under the mask. [mm]
    exposed_gap_mm : float
        Between an exposed pad's land and the terminals' lands. [mm]
    mask_margin_mm, least_mask_margin_mm : float
        How far the mask stays back from a land: wanted, and at least. [mm]
    least_mask_web_mm : float
        The narrowest strip of mask that holds between two openings. [mm]
    mask_overlap_mm : float
        How far copper reaches under the mask around a mask-defined land. [mm]
    pad_for_pad_toe_mm : float
        How far a pad-for-pad land runs past the terminal. [mm]
    pad_for_pad_longest_mm : float
        Longest body for which style `auto` takes pad-for-pad lands. [mm]
    collapsing_balls : bool
        Whether balls melt with the paste; False for balls that keep their shape.
    hole_level : {"most", "nominal", "least"}
        Producibility level of drilled holes, A to C.
    """

    fabrication_mm: float = 0.10
    placement_mm: float = 0.10
    rounding: Rounding = "fine"
    rms: bool = True
    trim_heels: bool = True
    copper_gap_mm: float = 0.20
    least_copper_gap_mm: float = 0.15
    least_covered_gap_mm: float = 0.10
    exposed_gap_mm: float = 0.20
    mask_margin_mm: float = 0.06
    least_mask_margin_mm: float = 0.05
    least_mask_web_mm: float = 0.07
    mask_overlap_mm: float = 0.05
    pad_for_pad_toe_mm: float = 0.20
    pad_for_pad_longest_mm: float = 1.5
    collapsing_balls: bool = True
    hole_level: Literal["most", "nominal", "least"] = "nominal"

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name.endswith("_mm") and not (math.isfinite(value) and value >= 0):
                raise InputError(
                    "a tolerance or minimum can't be negative",
                    place=f"land rules, {field.name}",
                    found=f"{value:g}",
                    expected="0 mm or more",
                )
        for name, allowed in (("rounding", tuple(STEP_MM)), ("hole_level", ("most", "nominal", "least"))):
            if getattr(self, name) not in allowed:
                raise InputError(
                    f"unknown {name.replace('_', ' ')}",
                    place=f"land rules, {name}",
                    found=repr(getattr(self, name)),
                    expected=" | ".join(allowed),
                )
        for low, high in (("least_copper_gap_mm", "copper_gap_mm"), ("least_mask_margin_mm", "mask_margin_mm")):
            if getattr(self, low) > getattr(self, high):
                raise InputError(
                    "the least is larger than what is wanted",
                    place=f"land rules, {low}",
                    found=f"{getattr(self, low):g} mm",
                    expected=f"at most {high} = {getattr(self, high):g} mm",
                )

    def row_gap_mm(self, pitch_mm: float) -> float:
        """The gap neighbouring lands of a row are held to at a pitch. [mm]

        Notes
        -----
        The wanted gap, but no more than half the pitch, and no less than the least gap. Makers' lands at
        0.4 mm pitch are 0.20 wide and 0.20 apart, at 0.35 mm 0.17 to 0.20 wide.

        Examples
        --------
        >>> rules = LandRules()
        >>> rules.row_gap_mm(0.4), rules.row_gap_mm(0.35), rules.row_gap_mm(0.25)
        (0.2, 0.175, 0.15)
        """
        return max(self.least_copper_gap_mm, min(self.copper_gap_mm, pitch_mm / 2))


RULE_REASONS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "fabrication_mm": ("lands vary by ±0.05 between boards, as data sheets print it", "land-mmc-lmc"),
        "placement_mm": (
            "±0.05, the value that reproduces the published chip lands best",
            "chip-lands-kemet",
        ),
        "rounding": ("0.01: boards are plotted to the micron, 0.05 is a habit of drawings", "landwise-rule"),
        "rms": ("all limits never meet in one part", "ipc-sm-782a-method"),
        "trim_heels": (
            "lands printed for gull-wings end at the body's edge in six of seven cases",
            "heel-trim-pattern",
        ),
        "copper_gap_mm": (
            "lands printed for 0.4 mm pitch keep 0.20, which also leaves a web of mask",
            "lands-at-400um-pitch",
        ),
        "least_copper_gap_mm": ("the finest printed lands leave 0.15 to 0.18", "lands-at-350um-pitch"),
        "least_covered_gap_mm": (
            "mask-defined ball lands leave 0.10 between copper at 0.4 and 0.5 mm pitch",
            "spraa99c-lands",
        ),
        "exposed_gap_mm": ("centre pad to terminals, as makers' drawings print it", "microchip-c04-23395"),
        "mask_margin_mm": ("60 µm all round is the usual request of data sheets", "mask-60um"),
        "least_mask_margin_mm": ("board makers ask for at least 50 µm", "mask-web-shops"),
        "least_mask_web_mm": ("a web of 70 µm holds on 17 to 54 µm copper", "mask-web-lab"),
        "mask_overlap_mm": (
            "copper under the edge of a mask-defined land, as for ball lands",
            "spraa99c-lands",
        ),
        "pad_for_pad_toe_mm": ("makers' leadless lands run 0.20 past the terminal", "ti-house-leadless"),
        "pad_for_pad_longest_mm": (
            "makers leave the goals and print pad for pad on the 1 mm class",
            "ti-house-leadless",
        ),
        "collapsing_balls": ("solder balls of logic parts melt with the paste", "collapsing-balls-practice"),
        "hole_level": ("the middle of the three producibility levels", "ipc-2222-holes"),
    }
)


def round_up(value_mm: float, rules: LandRules) -> float:
    """Up to the next step of the rounding rule. [mm]

    >>> round_up(6.924, LandRules()), round_up(6.924, LandRules(rounding="coarse"))
    (6.93, 6.95)
    """
    step = STEP_MM[rules.rounding]
    return value_mm if step == 0 else round(math.ceil(value_mm / step - ON_STEP) * step, 6)


def round_down(value_mm: float, rules: LandRules) -> float:
    """Down to the next step of the rounding rule. [mm]

    >>> round_down(2.979, LandRules()), round_down(2.979, LandRules(rounding="coarse"))
    (2.97, 2.95)
    """
    step = STEP_MM[rules.rounding]
    return value_mm if step == 0 else round(math.floor(value_mm / step + ON_STEP) * step, 6)


def round_near(value_mm: float, rules: LandRules) -> float:
    """To the nearest step of the rounding rule, halves up. [mm]

    >>> round_near(0.615, LandRules()), round_near(0.62, LandRules(rounding="coarse"))
    (0.62, 0.6)
    """
    step = STEP_MM[rules.rounding]
    return value_mm if step == 0 else round(math.floor(value_mm / step + 0.5 + ON_STEP) * step, 6)
