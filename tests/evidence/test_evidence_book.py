"""The formula book, its sources, and the contract that scripts rely on."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from landwise.errors import InputError, UnitError, UnknownNameError, ValidityError
from landwise.evidence import Figure, Step, all_formulas, all_sources, evaluate, formula
from landwise.evidence.figures import figure, worst
from landwise.evidence.sources import MARKS
from landwise.evidence.trails import stated, taken
from landwise.outlines import catalogue
from landwise.quantities import DIMENSIONS

SOURCE = Path(__file__).resolve().parents[2] / "src" / "landwise"

# Keys with working inputs and the outputs they must give: names that outside scripts use.
CONTRACT = {
    "area-ratio": (
        {"shape": "rounded", "length": "0.25 mm", "width": "0.20 mm", "corner": "0.05 mm", "foil": "100 um"},
        {"area_ratio", "aspect_ratio"},
    ),
    "paste-transfer": ({"area_ratio": "0.66", "technology": "laser-cut", "powder": "T4"}, {"mean", "sd"}),
    "paste-volume": (
        {
            "shape": "rectangle",
            "length": "0.6 mm",
            "width": "0.2 mm",
            "corner": "0 mm",
            "foil": "100 um",
            "technology": "laser-cut",
            "powder": "T4",
        },
        {"volume", "sd", "solder_volume"},
    ),
    "ball-joint": (
        {
            "ball_diameter": "0.3 mm",
            "package_land": "0.25 mm",
            "board_land": "0.25 mm",
            "paste_volume": "0.002 mm3",
            "load": "1 mg",
            "alloy": "sac305",
        },
        {"height", "max_diameter"},
    ),
    "pad-joint": (
        {
            "land_length": "0.6 mm",
            "land_width": "0.25 mm",
            "terminal_length": "0.4 mm",
            "terminal_width": "0.25 mm",
            "solder_volume": "8 nL",
            "load": "5 uN",
            "surface_tension": "0.5 N/m",
            "density": "7.4 g/cm3",
        },
        {"height", "bulge"},
    ),
    "leadless-cycles": (
        {
            "dnp": "1 mm",
            "cte_part": "7 ppm/K",
            "cte_board": "16 ppm/K",
            "delta_t": "100 K",
            "height": "60 um",
            "mean_solder_temp": "50 degC",
            "dwell": "15 min",
            "factor": "1",
            "alloy": "snpb",
        },
        {"cycles", "strain_range", "exponent"},
    ),
    "leaded-cycles": (
        {
            "stiffness": "10 N/mm",
            "dnp": "5 mm",
            "cte_part": "20 ppm/K",
            "cte_board": "16 ppm/K",
            "delta_t": "100 K",
            "joint_area": "0.4 mm2",
            "height": "60 um",
            "mean_solder_temp": "50 degC",
            "dwell": "15 min",
            "alloy": "snpb",
        },
        {"cycles", "energy_term", "exponent"},
    ),
    "cycle-acceleration": (
        {
            "field_delta_t": "40 K",
            "test_delta_t": "100 K",
            "field_freq": "2 /day",
            "test_freq": "48 /day",
            "field_t_max": "60 degC",
            "test_t_max": "100 degC",
            "alloy": "snpb",
        },
        {"factor"},
    ),
    "plate-frequency": (
        {
            "length": "100 mm",
            "width": "80 mm",
            "thickness": "1.6 mm",
            "modulus": "22 GPa",
            "poisson": "0.18",
            "mass": "40 g",
            "edges": "SSSS",
        },
        {"frequency"},
    ),
    "vibration-limit": (
        {
            "board_length": "100 mm",
            "part_length": "10 mm",
            "thickness": "1.6 mm",
            "package_constant": "1",
            "position_factor": "1",
            "cycles": "20000000",
            "psd": "0.01 g2/Hz",
        },
        {"displacement", "min_frequency"},
    ),
    "random-response": ({"frequency": "200 Hz", "q": "14", "psd": "0.01 g2/Hz"}, {"g_rms", "displacement_3sigma"}),
    "junction-temperature": (
        {"power": "50 mW", "theta_ja": "120 K/W", "ambient": "85 degC"},
        {"temperature", "margin"},
    ),
    "cmos-power": (
        {"cpd": "20 pF", "supply": "3.3 V", "frequency": "10 MHz", "outputs": "8", "load": "50 pF"},
        {"power"},
    ),
    "lead-inductance": ({"length": "3 mm", "width": "0.3 mm", "thickness": "0.15 mm"}, {"inductance"}),
    "ground-bounce": (
        {"outputs": "8", "inductance": "3 nH", "load": "50 pF", "swing": "3.3 V", "edge_time": "2 ns"},
        {"voltage"},
    ),
    "floor-life": ({"level": "3", "thickness": "1.2 mm"}, {"time", "bake"}),
    "clearance": ({"voltage": "48 V", "condition": "B4"}, {"spacing"}),
    "escape-tracks": (
        {"pitch": "0.8 mm", "land": "0.35 mm", "track": "0.1 mm", "space": "0.1 mm", "rows": "11"},
        {"tracks", "layers"},
    ),
    "trace-current": ({"width": "0.3 mm", "copper": "35 um", "rise": "10 K", "place": "outer"}, {"current"}),
    "hole-size": ({"lead_diameter": "0.6 mm", "level": "B"}, {"hole", "land"}),
}


@pytest.mark.parametrize("key", CONTRACT)
def test_stable_keys_take_and_give_their_names(key):
    inputs, outputs = CONTRACT[key]
    answer = evaluate(key, inputs)
    assert outputs <= set(answer.outputs)
    data = answer.as_json()
    assert set(data) == {"name", "outputs", "inputs", "valid", "sources"}
    assert data["valid"]
    assert data["sources"]
    assert all(set(output) == {"value", "unit"} for output in data["outputs"].values())


@pytest.mark.parametrize("entry", all_formulas().values(), ids=lambda entry: entry.key)
def test_every_entry_is_complete(entry):
    assert entry.title
    assert entry.valid
    assert entry.sources
    assert {key for key in entry.sources if key not in all_sources()} == set()
    for item in entry.inputs:
        assert item.dimension in DIMENSIONS or item.dimension in ("choice", "count")
        assert (item.dimension == "choice") == bool(item.choices)
        assert item.says
    assert len({output.name for output in entry.outputs}) == len(entry.outputs)


def test_every_source_is_whole_and_has_a_known_mark():
    for key, source in all_sources().items():
        assert re.fullmatch(r"[a-z0-9.-]+", key), key
        assert source.title
        assert source.where
        assert source.mark in MARKS


def test_every_source_named_in_data_or_code_is_described():
    named = {key for outline in catalogue().values() for key in outline.sources}
    named |= {outline.published_land.source for outline in catalogue().values() if outline.published_land}
    for path in SOURCE.rglob("*.toml"):
        if "sources" not in path.parts:
            for value in re.findall(r'^source = "([^"]+)"', path.read_text(), re.M):
                named.add(value)
    for path in SOURCE.rglob("*.py"):
        named |= set(re.findall(r'\bSOURCE = "([a-z0-9.-]+)"', path.read_text()))
    assert named - set(all_sources()) == set()


def test_no_source_is_described_twice():
    seen: dict[str, str] = {}
    for path in (SOURCE / "evidence" / "sources").glob("*.toml"):
        for key in tomllib.loads(path.read_text()):
            assert key not in seen, f"{key} in {path.name} and {seen[key]}"
            seen[key] = path.name


def test_recalled_constants_are_never_a_default():
    for key in ("leadless-cycles", "leaded-cycles", "cycle-acceleration"):
        alloy = next(item for item in formula(key).inputs if item.name == "alloy")
        assert alloy.default == "snpb"
        assert [choice for choice in alloy.choices if choice.endswith("-recalled")]


@pytest.mark.parametrize(
    ("key", "change", "error"),
    [
        ("area-ratio", {"foil": "100"}, UnitError),
        ("area-ratio", {"foil": "100 V"}, UnitError),
        ("area-ratio", {"foil": None}, InputError),
        ("area-ratio", {"shape": "star"}, InputError),
        ("area-ratio", {"depth": "1 mm"}, UnknownNameError),
        ("area-ratio", {"width": "-0.2 mm"}, InputError),
        ("cmos-power", {"outputs": "2.5"}, InputError),
        ("leadless-cycles", {"dwell": "20 s"}, ValidityError),
        ("leadless-cycles", {"factor": "9"}, ValidityError),
        ("paste-transfer", {"area_ratio": "0.2"}, ValidityError),
        ("plate-frequency", {"thickness": "20 mm"}, ValidityError),
        ("lead-inductance", {"length": "0.1 mm"}, ValidityError),
        ("trace-current", {"rise": "500 K"}, ValidityError),
        ("floor-life", {"thickness": "5 mm"}, ValidityError),
        ("vibration-limit", {"package_constant": "9"}, ValidityError),
        ("hole-size", {"lead_width": "0.5 mm"}, InputError),
        ("pad-joint", {"terminal_length": "0.7 mm"}, InputError),
        ("ball-joint", {"load": "1 kg"}, ValidityError),
    ],
)
def test_bad_inputs_are_refused_not_stretched(key, change, error):
    inputs = {**CONTRACT[key][0], **change}
    with pytest.raises(error):
        evaluate(key, {name: text for name, text in inputs.items() if text is not None})


def test_ground_bounce_says_which_form_and_flags_what_is_no_prediction():
    answer = evaluate("ground-bounce", CONTRACT["ground-bounce"][0])
    assert answer.inputs["form"] == "triangle"
    assert answer.outputs["flag"] in (True, False)
    assert answer.formula.cautions


def test_unknown_keys_name_their_neighbours():
    with pytest.raises(UnknownNameError, match="area-ratio"):
        formula("area-ration")


def test_a_figure_knows_its_margin_and_its_sources():
    gives = taken("b", stated(0.7, "a test"), sources=("y", "z"))
    more = figure(
        gives, key="k", title="t", better="more", limit=0.66, trail=(Step(says="a", sources=("x", "y")), gives)
    )
    less = figure(taken("c", stated(3.0, "a test")), key="k", title="t", better="less", limit=2.0)
    assert more.margin == pytest.approx(0.04)
    assert less.margin == pytest.approx(-1.0)
    assert more.sources == ("x", "y", "z")
    assert Figure(key="k", title="t").text() == "not known"
    assert worst(["holds", "fails", "marginal"]) == "fails"
