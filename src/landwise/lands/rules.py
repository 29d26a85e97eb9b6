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


@dataclass(frozen=True)
class LandRules:
    """Tolerances and minima of land patterns. [mm]; reasons in `RULE_REASONS`."""

    fabrication_mm: float = 0.10
    placement_mm: float = 0.10
    rounding: Rounding = "fine"
    rms: bool = True
    trim_heels: bool = True
    least_copper_gap_mm: float = 0.15
    exposed_gap_mm: float = 0.20
    mask_margin_mm: float = 0.06
    least_mask_margin_mm: float = 0.05
    least_mask_web_mm: float = 0.07
    mask_overlap_mm: float = 0.05
    pad_for_pad_toe_mm: float = 0.20
    pad_for_pad_longest_mm: float = 1.5
    hole_level: Literal["most", "nominal", "least"] = "nominal"

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name.endswith("_mm") and not (math.isfinite(value) and value >= 0):
                raise InputError(
                    "a tolerance or minimum can't be negative",
                    place=f"land rules, {field.name}",
                    found=f"{value:g}",
                )
        if self.rounding not in STEP_MM:
            raise InputError(
                "unknown rounding",
                place="land rules, rounding",
                found=self.rounding,
                expected=" | ".join(STEP_MM),
            )


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
        "least_copper_gap_mm": ("the finest printed lands leave 0.15 to 0.18", "ti-sces217-dsf0006a"),
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
        "hole_level": ("the middle of the three producibility levels", "ipc-2222-holes"),
    }
)


def round_up(value_mm: float, rules: LandRules) -> float:
    """Up to the next step of the rounding rule."""
    step = STEP_MM[rules.rounding]
    return value_mm if step == 0 else round(math.ceil(value_mm / step - 1e-9) * step, 6)


def round_down(value_mm: float, rules: LandRules) -> float:
    """Down to the next step of the rounding rule."""
    step = STEP_MM[rules.rounding]
    return value_mm if step == 0 else round(math.floor(value_mm / step + 1e-9) * step, 6)


def round_near(value_mm: float, rules: LandRules) -> float:
    """To the nearest step of the rounding rule."""
    step = STEP_MM[rules.rounding]
    return value_mm if step == 0 else round(round(value_mm / step) * step, 6)
