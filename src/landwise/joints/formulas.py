"""Formula-book entries of the joints room."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from landwise.errors import InputError
from landwise.evidence.book import Formula, Input, Output
from landwise.joints.alloys import ALLOYS, alloy_values

_ALLOY = (
    Input("alloy", "choice", "solder alloy", "sac305", tuple(ALLOYS)),
    Input("surface_tension", "surface tension", "instead of the alloy's", optional=True),
    Input("density", "density", "instead of the alloy's", optional=True),
)
_ALLOY_SOURCES = ("tension-sac-memory", "tension-snpb", "solder-densities")


def _ball(
    ball_diameter: float, package_land: float, board_land: float, paste_volume: float, load: float, alloy: str,
    surface_tension: float | None, density: float | None,
) -> Mapping[str, Any]:  # fmt: skip
    from landwise.joints.ball import ball_joint

    if ball_diameter <= 0 or paste_volume < 0:
        raise InputError(
            "the ball must be positive and paste not negative", found=f"{ball_diameter:g} mm, {paste_volume:g} mm³"
        )
    tension, weight = alloy_values(alloy, surface_tension, density)
    volume = math.pi / 6 * ball_diameter**3 + paste_volume
    joint = ball_joint(volume, board_land, package_land, load_n=load, tension_n_m=tension, density_g_cm3=weight)
    return {
        "height": float(joint.height_mm[0]),
        "max_diameter": float(joint.max_diameter_mm[0]),
        "below_board": bool(joint.below_board[0]),
    }


def _pad(
    land_length: float, land_width: float, terminal_length: float, terminal_width: float, solder_volume: float, load: float,
    offset: float, alloy: str, surface_tension: float | None, density: float | None,
) -> Mapping[str, Any]:  # fmt: skip
    from landwise.joints.pad import pad_joint

    tension, weight = alloy_values(alloy, surface_tension, density)
    joint = pad_joint(
        land_length, land_width, terminal_length, terminal_width, solder_volume, load_n=load, offset_mm=offset,
        tension_n_m=tension, density_g_cm3=weight,
    )  # fmt: skip
    return {
        "height": joint.height_mm,
        "bulge": joint.bulge_mm,
        "height_error": joint.height_error_mm,
        "spills": joint.spills,
    }


def _fillet(
    foot_length: float, foot_width: float, thickness: float, toe: float, heel: float, side: float, solder_volume: float,
    gap: float, leg_angle: float, leg_height: float, contact_angle: float, alloy: str, surface_tension: float | None,
    density: float | None,
) -> Mapping[str, Any]:  # fmt: skip
    from landwise.joints.acceptance import class_met
    from landwise.joints.gullwing import Foot, fillet_volumes, gullwing_fillet

    tension, _ = alloy_values(alloy, surface_tension, density)
    foot = Foot(
        foot_length,
        foot_width,
        thickness,
        toe,
        heel,
        (side, side),
        gap,
        leg_angle,
        leg_height,
        contact_deg=contact_angle,
    )
    fillet = gullwing_fillet(foot, solder_volume, tension_n_m=tension)
    return {
        "heel": fillet.heel_mm,
        "toe": fillet.toe_mm,
        "side": fillet.side_mm,
        "pressure": fillet.pressure_mpa,
        "class_met": class_met(foot, fillet),
        "most_solder": fillet_volumes(foot)[1],
    }


def _lead(
    shoulder: float, run: float, rise: float, foot: float, width: float, thickness: float, end: str, modulus: float,
    poisson: float,
) -> Mapping[str, Any]:  # fmt: skip
    from landwise.joints.lead import lead_stiffness
    from landwise.joints.leadform import LeadForm

    form = LeadForm(shoulder, run, rise, foot, width, thickness)
    found = lead_stiffness(form, end=end, modulus_gpa=modulus / 1e3, poisson=poisson)  # type: ignore[arg-type]
    return {"radial": found.radial_n_mm, "along": found.along_n_mm, "vertical": found.vertical_n_mm}


BOOK: tuple[Formula, ...] = (
    Formula(
        "ball-joint",
        "Height and width of a molten ball joint",
        (
            Input("ball_diameter", "length", "ball before reflow"),
            Input("package_land", "length", "wetted land on the package"),
            Input("board_land", "length", "wetted land on the board"),
            Input("paste_volume", "volume", "metal that the paste adds", "0 mm3"),
            Input("load", "load", "share of the part's weight, as a force or a mass", "0 N"),
            *_ALLOY,
        ),
        (
            Output("height", "mm", "between the lands"),
            Output("max_diameter", "mm", "widest diameter"),
            Output("below_board", "", "contour sinks below the land's plane: it touches the mask"),
        ),
        _ball,
        "edges pinned at the lands, solder molten and at rest",
        ("young-laplace", *_ALLOY_SOURCES),
        "Young-Laplace with gravity; without load πh/6·(3r₁² + 3r₂² + h²) = V",
    ),
    Formula(
        "pad-joint",
        "Height and sideways bulge of a molten flat-land joint",
        (
            Input("land_length", "length", "land length"),
            Input("land_width", "length", "land width"),
            Input("terminal_length", "length", "terminal length, no longer than the land"),
            Input("terminal_width", "length", "terminal width, no wider than the land"),
            Input("solder_volume", "volume", "solder"),
            Input("load", "load", "share of the part's weight, as a force or a mass", "0 N"),
            Input(
                "offset",
                "length",
                "terminal's middle from the land's, along the length; half the toe if flush at the heel",
                "0 mm",
            ),
            *_ALLOY,
        ),
        (
            Output("height", "mm", "between land and terminal"),
            Output("bulge", "mm", "past the long edge of the land at its middle"),
            Output("height_error", "mm", "what mesh refinement still moves"),
            Output("spills", "", "pressure above 2γ/h: solder runs onto the mask"),
        ),
        _pad,
        "edges pinned, solder molten and at rest, terminal within the land",
        ("surface-energy-minimum", *_ALLOY_SOURCES),
        "least γA + ρg∫z dV + load·h at fixed volume",
    ),
    Formula(
        "gull-wing-fillet",
        "Heel, toe and side fillets of a gull-wing lead",
        (
            Input("foot_length", "length", "foot, from its tip to the outside of the heel"),
            Input("foot_width", "length", "lead width"),
            Input("thickness", "length", "lead thickness"),
            Input("toe", "length", "land beyond the tip"),
            Input("heel", "length", "land behind the heel"),
            Input("side", "length", "land beyond each side"),
            Input("solder_volume", "volume", "metal on the land"),
            Input("gap", "length", "between land and foot; zero for a seated foot", "0 mm"),
            Input("leg_angle", "angle", "slope of the leg", "80 deg"),
            Input("leg_height", "length", "from the foot's underside to the shoulder's", "1 mm"),
            Input("contact_angle", "angle", "at which solder climbs the lead", "30 deg"),
            *_ALLOY,
        ),
        (
            Output("heel", "mm", "heel fillet above the land"),
            Output("toe", "mm", "toe fillet above the land"),
            Output("side", "mm", "side fillet above the land"),
            Output("pressure", "MPa", "in the solder, over the air's"),
            Output("class_met", "", "highest class whose criteria hold, 0 for none; foot taken as centred"),
            Output("most_solder", "mm3", "what the fillets can hold"),
        ),
        _fillet,
        "land and lead wetted, fillets below about 1 mm, solder within what the fillets hold",
        ("young-laplace", "contact-angles", "gull-wing-acceptance", *_ALLOY_SOURCES),
        "arcs of one curvature; their volumes add up to the solder",
    ),
    Formula(
        "lead-stiffness",
        "Stiffness of a gull-wing lead",
        (
            Input("shoulder", "length", "level part beside the body"),
            Input("run", "length", "level extent of the leg"),
            Input("rise", "length", "height from foot to shoulder"),
            Input("foot", "length", "foot"),
            Input("width", "length", "lead width"),
            Input("thickness", "length", "lead thickness"),
            Input(
                "end",
                "choice",
                "foot free to turn and shift, guided (shifts, does not turn), or fixed (neither)",
                None,
                ("free", "guided", "fixed"),
            ),
            Input("modulus", "pressure", "of the lead's metal", "121 GPa"),
            Input("poisson", "ratio", "Poisson's ratio", "0.34"),
        ),
        (
            Output("radial", "N/mm", "outward from the body"),
            Output("along", "N/mm", "along the body's side"),
            Output("vertical", "N/mm", "up and down"),
        ),
        _lead,
        "linear, small shifts, sharp bends; body rigid",
        ("beam-theory", "lead-frame-copper"),
        "compliances of three segments added at the foot; stiffness by what the end may do",
    ),
)
