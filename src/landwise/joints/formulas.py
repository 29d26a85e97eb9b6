"""Formula-book entries of the joints room.

Longer than other modules because half of it is the book itself: entries as data, which say nothing apart from the
functions above them, and which the book reads from one place in each room.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from landwise.errors import InputError
from landwise.evidence.book import Formula, Input, Output, Outputs, gathered
from landwise.joints.alloys import ALLOYS, alloy_values
from landwise.joints.lead import End
from landwise.untyped import Fields

_ALLOY = (
    Input("alloy", "choice", "solder alloy", "sac305", tuple(ALLOYS)),
    Input("surface_tension", "surface tension", "instead of the alloy's", optional=True),
    Input("density", "density", "instead of the alloy's", optional=True),
)
_ALLOY_SOURCES = ("tension-sac-memory", "tension-snpb", "solder-densities")


def _ball(
    ball_diameter: float,
    package_land: float,
    board_land: float,
    paste_volume: float,
    load: float,
    alloy: str,
    surface_tension: float | None,
    density: float | None,
) -> Outputs:
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


@dataclass(frozen=True)
class _Pad:
    land_length: float
    land_width: float
    terminal_length: float
    terminal_width: float
    solder_volume: float
    load: float
    offset: float
    alloy: str
    surface_tension: float | None
    density: float | None


def _pad(at: _Pad) -> Outputs:
    from landwise.joints.pad import Faces, Molten, pad_joint

    tension, weight = alloy_values(at.alloy, at.surface_tension, at.density)
    joint = pad_joint(
        Faces(at.land_length, at.land_width, at.terminal_length, at.terminal_width, offset_mm=at.offset),
        at.solder_volume,
        load_n=at.load,
        molten=Molten(tension_n_m=tension, density_g_cm3=weight),
    )
    return {
        "height": joint.height_mm,
        "bulge": joint.bulge_mm,
        "height_error": joint.height_error_mm,
        "spills": joint.spills,
        "recedes": joint.recedes,
    }


@dataclass(frozen=True)
class _Fillet:
    foot_length: float
    foot_width: float
    thickness: float
    toe: float
    heel: float
    side: float
    solder_volume: float
    gap: float
    leg_angle: float
    leg_height: float
    contact_angle: float
    alloy: str
    surface_tension: float | None
    density: float | None


def _fillet(at: _Fillet) -> Outputs:
    from landwise.joints.acceptance import class_met
    from landwise.joints.gullwing import Foot, fillet_volumes, gullwing_fillet

    tension, _ = alloy_values(at.alloy, at.surface_tension, at.density)
    foot = Foot(
        at.foot_length,
        at.foot_width,
        at.thickness,
        at.toe,
        at.heel,
        (at.side, at.side),
        at.gap,
        at.leg_angle,
        at.leg_height,
        contact_deg=at.contact_angle,
    )
    fillet = gullwing_fillet(foot, at.solder_volume, tension_n_m=tension)
    return {
        "heel": fillet.heel_mm,
        "toe": fillet.toe_mm,
        "side": fillet.side_mm,
        "pressure": fillet.pressure_mpa,
        "class_met": class_met(foot, fillet),
        "most_solder": fillet_volumes(foot)[1],
    }


@dataclass(frozen=True)
class _Lead:
    shoulder: float
    run: float
    rise: float
    foot: float
    width: float
    thickness: float
    end: End
    modulus: float
    poisson: float


def _lead(at: _Lead) -> Outputs:
    from landwise.joints.lead import lead_stiffness
    from landwise.joints.leadform import LeadForm

    form = LeadForm(at.shoulder, at.run, at.rise, at.foot, at.width, at.thickness)
    found = lead_stiffness(form, end=at.end, modulus_gpa=at.modulus / 1e3, poisson=at.poisson)
    return {"radial": found.radial_n_mm, "along": found.along_n_mm, "vertical": found.vertical_n_mm}


@dataclass(frozen=True)
class _Settle:
    coverage: float
    foil: float
    metal_fraction: float
    transfer: float
    void: float
    via_share: float
    wanted: float
    pad_length: float | None
    pad_width: float | None
    joints: int
    land_width: float | None
    terminal_length: float | None
    terminal_width: float | None
    toe: float
    heel: float
    solder_volume: float | None
    weight: float
    alloy: str
    surface_tension: float | None
    density: float | None


def _settle(at: _Settle) -> Outputs:
    from landwise.joints.contact import dome_height
    from landwise.joints.settling import CentrePad, PerimeterJoint, coverage_for, settle, standoff_window

    printed = {"metal_fraction": at.metal_fraction, "transfer": at.transfer, "via_share": at.via_share}
    window = standoff_window(at.coverage, at.foil, void=at.void, **printed)
    found: Fields = {
        "standoff": window.nominal_um,
        "low": window.low_um,
        "high": window.high_um,
        "coverage_wanted": coverage_for(at.wanted, at.foil, void=at.void, **printed),
    }
    sizes = (at.pad_length, at.pad_width, at.land_width, at.terminal_length, at.terminal_width, at.solder_volume)
    if all(size is None for size in sizes):
        return found
    if at.pad_length is None or at.pad_width is None or at.land_width is None or at.terminal_length is None:
        raise InputError("the balance needs the pad and one edge joint whole", expected="every size of pad and joint")
    if at.terminal_width is None or at.solder_volume is None:
        raise InputError("the balance needs the pad and one edge joint whole", expected="every size of pad and joint")
    tension, _ = alloy_values(at.alloy, at.surface_tension, at.density)
    edge = PerimeterJoint(
        at.joints, at.terminal_length, at.terminal_width, at.land_width, at.toe, at.heel, at.solder_volume
    )
    # Gas lifts nothing above deposits that keep their printed place: as for a mounted part.
    kept = 1 - window.low_um / window.nominal_um
    pad = CentrePad(at.pad_length, at.pad_width, window.low_um / 1e3 * at.pad_length * at.pad_width, kept)
    dome = dome_height(edge.land_length_mm, at.land_width, at.solder_volume)
    rest = settle(pad, edge, at.weight, dome_mm=dome, tension_n_m=tension)
    return found | {
        "standoff": rest.height_mm * 1e3,
        "edge_stretch": rest.stretch,
        "edge_joints": rest.state,
        "edge_tabled": rest.tabled,
        "spills": rest.spills,
    }


def _barrel(
    solder_volume: float, hole: float, lead: float, board: float, ring: float, fillets: int, contact_angle: float
) -> Outputs:
    from landwise.joints.barrel import barrel_fill, capillary_rise

    return {
        "fill": barrel_fill(solder_volume, hole, lead, board, ring_mm=ring, fillets=fillets),
        "rise": capillary_rise(hole, lead, contact_deg=contact_angle),
    }


def _snap(
    volume: float,
    package_land: float,
    board_land: float,
    alloy: str,
    surface_tension: float | None,
    density: float | None,
) -> Outputs:
    from landwise.joints.pull import snap_off

    tension, weight = alloy_values(alloy, surface_tension, density)
    off = snap_off(volume, board_land, package_land, tension_n_m=tension, density_g_cm3=weight)
    return {"pull": off.pull_n, "height": off.height_mm}


def _reach(
    land_length: float, land_width: float, solder_volume: float, paste_height: float, rise: float, sink: float
) -> Outputs:
    from landwise.joints.contact import contact, dome_height

    dome = dome_height(land_length, land_width, solder_volume)
    found = contact(("it",), [rise], [paste_height], [dome], sink)
    return {
        "dome": dome,
        "margin": found.margin_mm,
        "touches_paste": not found.misses_paste,
        "stays_open": bool(found.stays_open),
        "robust": found.robust,
    }


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
            Output("recedes", "", "the surface dips below the land at its edge: solder draws back from a corner"),
        ),
        gathered(_Pad, _pad),
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
        gathered(_Fillet, _fillet),
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
        gathered(_Lead, _lead),
        "linear, small shifts, sharp bends; body rigid",
        ("beam-theory", "lead-frame-copper"),
        "compliances of three segments added at the foot; stiffness by what the end may do",
    ),
    Formula(
        "settle",
        "Standoff of a leadless part on its centre pad",
        (
            Input("coverage", "ratio", "open area over pad area"),
            Input("foil", "thin length", "foil"),
            Input("metal_fraction", "ratio", "metal by volume of the paste", "0.536"),
            Input("transfer", "ratio", "share of the aperture's volume that is printed", "1"),
            Input("void", "ratio", "gas over pad area", "0.30"),
            Input("via_share", "ratio", "share of the pad's solder that open vias take", "0"),
            Input("wanted", "thin length", "standoff wished for", "60 um"),
            Input("pad_length", "length", "centre pad, for the force balance", optional=True),
            Input("pad_width", "length", "centre pad", optional=True),
            Input("joints", "count", "edge joints", "16"),
            Input("land_width", "length", "edge land", optional=True),
            Input("terminal_length", "length", "edge terminal", optional=True),
            Input("terminal_width", "length", "edge terminal", optional=True),
            Input("toe", "length", "edge land beyond the terminal, outward", "0 mm"),
            Input("heel", "length", "edge land beyond the terminal, inward", "0 mm"),
            Input("solder_volume", "volume", "metal on one edge land", optional=True),
            Input("weight", "load", "of the part, as a force or a mass", "0 N"),
            *_ALLOY,
        ),
        (
            Output("standoff", "um", "where pad, edge joints and weight balance; without them, with the share of gas"),
            Output("low", "um", "full spread, no gas"),
            Output("high", "um", "deposits that do not spread"),
            Output("coverage_wanted", "", "coverage for the standoff wished for"),
            Output("edge_tabled", "", "edge joints lie within their table; beyond it they are taken at its edge"),
            Output("edge_stretch", "", "standoff over the edge joints' mean solder height"),
            Output("edge_joints", "", "pressed, pulled, or open: the part floats on its pad"),
            Output("spills", "", "edge solder runs onto the mask"),
        ),
        gathered(_Settle, _settle),
        "part level, at rest; edge joints within the table of joints/pad_table.toml",
        ("qfn-standoff-measured", "qfn-standoff-target", "surface-energy-minimum", *_ALLOY_SOURCES),
        "coverage × foil × metal × transfer × (1 − vias) ÷ (1 − void); then ΣF(h) = weight",
    ),
    Formula(
        "barrel-fill",
        "Fill of a drilled joint, and how high a wave could climb",
        (
            Input("solder_volume", "volume", "metal printed for the hole"),
            Input("hole", "length", "finished hole"),
            Input("lead", "length", "lead diameter"),
            Input("board", "length", "board thickness", "1.6 mm"),
            Input("ring", "length", "annular ring", "0 mm"),
            Input("fillets", "count", "sides with a fillet", "0"),
            Input("contact_angle", "angle", "of the solder", "30 deg"),
        ),
        (
            Output("fill", "", "of barrel and fillets; 0.75 serves class 2 and 3"),
            Output("rise", "mm", "capillary rise between lead and barrel"),
        ),
        _barrel,
        "lead round and centred; the rise says that heat, not capillarity, limits a wave",
        ("paste-in-hole-sheet", "barrel-fill", "young-laplace", "contact-angles"),
        "solder ÷ (π/4 (hole² − lead²) board + fillets); 2γ cos θ ÷ (ρ g gap)",
    ),
    Formula(
        "ball-snap-off",
        "The strongest pull a molten ball joint withstands",
        (
            Input("volume", "volume", "solder of the joint"),
            Input("package_land", "length", "wetted land on the package"),
            Input("board_land", "length", "wetted land on the board"),
            *_ALLOY,
        ),
        (Output("pull", "N", "greatest pull"), Output("height", "mm", "height under it")),
        _snap,
        "edges pinned; pulled slowly and straight",
        ("young-laplace", *_ALLOY_SOURCES),
        "the peak of the force-height curve",
    ),
    Formula(
        "deposit-reach",
        "Whether a raised terminal is reached by its deposit",
        (
            Input("land_length", "length", "land"),
            Input("land_width", "length", "land"),
            Input("solder_volume", "volume", "metal on the land"),
            Input("paste_height", "length", "wet paste"),
            Input("rise", "length", "of the terminal over the plane the part stands on: coplanarity or warpage"),
            Input("sink", "length", "how far the part comes down in melting", "0 mm"),
        ),
        (
            Output("dome", "mm", "height of the molten deposit by itself"),
            Output("margin", "mm", "dome and sinking less the rise"),
            Output("touches_paste", "", "when placed"),
            Output("stays_open", "", "reached by neither paste nor molten solder"),
            Output("robust", "", "rise below 75 % of the molten height"),
        ),
        _reach,
        "land wetted to its edge, part placed without force",
        ("young-laplace", "wassink-height", "jedec-coplanarity-memory"),
        "arc over the land's width × peak-to-mean of the membrane on its rectangle ÷ 1.5",
    ),
)
