"""The courtyard: the board area that a part claims, its body, its lands and a margin all round."""

from __future__ import annotations

from landwise.errors import InputError
from landwise.evidence.figures import Step
from landwise.lands.goals import form_of, goals
from landwise.lands.model import Land, Level
from landwise.lands.rules import LandRules, round_up
from landwise.outlines import Outline
from landwise.shapes import bounding_box

# The small chips' excess was set for chips shorter than 1.6 mm; bodies of this length are placed like them.
SMALL_BODY_MM = 2.0


def courtyard_form(outline: Outline) -> str:
    """Which row's courtyard excess an outline follows: bodies of up to 2 mm are spaced like small chips."""
    longest = max(outline.body_length_mm.nom, outline.body_width_mm.nom)
    if longest <= SMALL_BODY_MM and outline.family not in ("ball grid", "dual in-line"):
        return "small chip"
    return form_of(outline)


def courtyard_size(lands_mm: float, body_mm: float, excess_mm: float) -> float:
    """One side of a courtyard: the larger of lands and body, and the excess at both ends. [mm]

    Parameters
    ----------
    lands_mm : float
        Extent of the lands. [mm]
    body_mm : float
        Largest body. [mm]
    excess_mm : float
        Courtyard excess of the density level. [mm]

    Raises
    ------
    InputError
        For a size that isn't positive.

    Examples
    --------
    >>> courtyard_size(4.15, 3.4, 0.25)
    4.65
    """
    if not (lands_mm > 0 and body_mm > 0 and excess_mm >= 0):
        raise InputError(
            "a courtyard needs positive sizes",
            found=f"lands {lands_mm:g}, body {body_mm:g}, excess {excess_mm:g} mm",
            expected="lands and body > 0, excess ≥ 0",
        )
    return max(lands_mm, body_mm) + 2 * excess_mm


def courtyard(
    outline: Outline, lands: list[Land], level: Level, rules: LandRules, trail: list[Step]
) -> tuple[float, float]:
    """Width along x and height along y, centred on the body, rounded up. [mm]"""
    goal = goals(courtyard_form(outline), level)
    x0, y0, x1, y1 = bounding_box([land.copper for land in lands])
    lands_wide, lands_high = 2 * max(-x0, x1), 2 * max(-y0, y1)
    body_wide, body_high = outline.body_width_mm.max, outline.body_length_mm.max
    # A micron of float noise must not push a size over its rounding step.
    width = round_up(round(courtyard_size(lands_wide, body_wide, goal.courtyard_mm), 6), rules)
    height = round_up(round(courtyard_size(lands_high, body_high, goal.courtyard_mm), 6), rules)
    trail.append(
        Step(
            says=f"courtyard {width:.2f} × {height:.2f} mm: lands and body with {goal.courtyard_mm:g} mm all round",
            inputs={
                "form": goal.form,
                "level": level,
                "lands": f"{lands_wide:.2f} × {lands_high:.2f} mm",
                "body": f"{body_wide:.2f} × {body_high:.2f} mm",
            },
            value=goal.courtyard_mm,
            unit="mm",
            formula="courtyard",
            valid="",
            sources=(goal.source,),
        )
    )
    return width, height
