"""Formula-book entries of moisture, spacing, migration and coats."""

from __future__ import annotations

from landwise.errors import InputError
from landwise.evidence.book import Formula, Input, Output, Outputs
from landwise.service import clearance as spacing_table
from landwise.service import contamination, moisture


def _floor_life(level: str, thickness: float) -> Outputs:
    time = moisture.floor_life(level)
    if time is None:
        return {"time": None, "bake": None}
    if level == "2":
        return {"time": time / moisture.HOUR, "bake": None}
    bake = moisture.bake(level, thickness)
    if bake is None:
        raise InputError("no bake for this level", place="level", found=level)
    return {
        "time": time / moisture.HOUR,
        "bake": bake.at_125_s / moisture.HOUR,
        "bake_90": bake.at_90_s / moisture.HOUR,
        "bake_40": bake.at_40_s / moisture.HOUR,
    }


def _classification(thickness: float, volume: float) -> Outputs:
    return {"temperature": moisture.classification_temperature(thickness, volume)}


def _clearance(voltage: float, condition: str) -> Outputs:
    return {"spacing": spacing_table.spacing(voltage, condition)}


def _migration(voltage: float, gap: float, air: contamination.Air) -> Outputs:
    found = contamination.migration(voltage, gap, air)
    return {"field": found.field_v_mm, "verdict": found.verdict, "says": found.says}


def _coat(gap: float, coat: str) -> Outputs:
    found = contamination.coat_reach(gap, coat, True)
    return {"ratio": found.ratio, "verdict": found.verdict, "says": found.says}


DIRT: tuple[Formula, ...] = (
    Formula(
        "floor-life",
        "Time out of the bag, and the bake after it",
        (
            Input("level", "choice", "moisture sensitivity level", None, ("1", "2", "2a", "3", "4", "5", "5a")),
            Input("thickness", "length", "body thickness", "1.2 mm"),
        ),
        (
            Output("time", "h", "floor life at 30 °C, 60 %; none: unlimited"),
            Output("bake", "h", "bake at 125 °C of a saturated part"),
            Output("bake_90", "h", "bake at 90 °C"),
            Output("bake_40", "h", "bake at 40 °C, dry"),
        ),
        _floor_life,
        "bodies up to 2.0 mm; level 2a as in the older revision, newer ones give it 7 h at 125 °C",
        (moisture.FLOOR_SOURCE, moisture.BAKE_SOURCE),
        "table",
        "total bake time above 90 °C is limited to 96 h by solderability; reels bake at 40 °C only",
    ),
    Formula(
        "classification-temperature",
        "Peak body temperature a package is classed for, lead-free",
        (Input("thickness", "length", "body thickness"), Input("volume", "volume", "body volume without leads")),
        (Output("temperature", "degC", "classification temperature"),),
        _classification,
        "plastic packages, lead-free reflow",
        ("j-std-020c-classes",),
        "table",
    ),
    Formula(
        "clearance",
        "Spacing between conductors by voltage",
        (
            Input("voltage", "voltage", "DC or AC peak"),
            Input(
                "condition",
                "choice",
                "; ".join(f"{k}: {v}" for k, v in spacing_table.CONDITIONS.items()),
                "b2",
                tuple(spacing_table.SPACING_MM),
            ),
        ),
        (Output("spacing", "mm", "least spacing"),),
        _clearance,
        "0 to 10 kV peak; generic boards",
        (spacing_table.SOURCE,),
        "table; above 500 V the slope is added to the last row",
        "safety standards and local codes override it; circuits on mains want licensed practice",
    ),
    Formula(
        "migration-field",
        "Field between terminals and its class of exposure",
        (
            Input("voltage", "voltage", "between the terminals"),
            Input("gap", "length", "gap"),
            Input(
                "air",
                "choice",
                "; ".join(f"{k}: {v}" for k, v in contamination.AIRS.items()),
                "dry",
                tuple(contamination.AIRS),
            ),
        ),
        (
            Output("field", "V/mm", "field"),
            Output("verdict", "", "holds, marginal or fails; a class, not a chance"),
            Output("says", "", "why"),
        ),
        _migration,
        "a class of exposure; residues decide, and no formula here knows them",
        ("ecm-mechanism", "ecm-coated", "ecm-bell", contamination.TEST_SOURCE),
        "V/gap",
        "safety standards and local codes override it; circuits on mains want licensed practice",
    ),
    Formula(
        "coat-reach",
        "Whether a conformal coat gets under a body",
        (
            Input("gap", "thin length", "gap under the body"),
            Input("coat", "choice", "kind of coat", None, tuple(contamination.COATS)),
        ),
        (
            Output("ratio", "", "gap over two films"),
            Output("verdict", "", "holds or marginal"),
            Output("says", "", "why"),
        ),
        _coat,
        "a rule of landwise's own on recalled thicknesses",
        (*contamination.COAT_SOURCES, "coat-capillary"),
        "gap/(2·film)",
    ),
)
