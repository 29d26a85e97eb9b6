"""The room's entries of the formula book, as a user types them."""

from __future__ import annotations

import pytest

from landwise.errors import InputError, LandwiseError
from landwise.evidence import evaluate, formula, source
from landwise.printing import area_ratio, paste_metal_fraction, transfer
from landwise.printing.formulas import BOOK
from landwise.shapes import circle, oblong, rectangle, rounded

CASES = {
    "area-ratio": {"length": "0.6 mm", "width": "0.17 mm", "foil": "100 um"},
    "paste-transfer": {"area_ratio": "0.7"},
    "paste-volume": {"length": "0.6 mm", "width": "0.17 mm", "foil": "100 um"},
    "metal-fraction": {"load": "90 %"},
    "step-keep-out": {"step": "50 um"},
    "powder-opening": {"powder": "T4"},
    "slump-spacing": {"width": "0.33 mm", "foil": "200 um"},
    "paste-in-hole": {"hole": "0.9 mm", "lead": "0.5 mm", "board": "1.6 mm", "foil": "150 um"},
    "pane-coverage": {
        "count": "9",
        "length": "0.9 mm",
        "width": "0.9 mm",
        "pad_length": "3.3 mm",
        "pad_width": "3.3 mm",
    },
}


@pytest.mark.parametrize("entry", BOOK, ids=lambda entry: entry.key)
def test_every_entry_works_and_says_its_source(entry):
    answer = evaluate(entry.key, CASES[entry.key])
    assert set(answer.outputs) == {output.name for output in entry.outputs}
    assert all(isinstance(value, float) and value > 0 for value in answer.outputs.values())
    assert entry.valid
    assert entry.sources
    assert all(source(key) for key in entry.sources)


@pytest.mark.parametrize(
    ("given", "shape"),
    [
        ({"shape": "rectangle", "length": "0.6 mm", "width": "0.2 mm"}, rectangle(0.6, 0.2)),
        ({"shape": "circle", "length": "0.25 mm"}, circle(0.25)),
        ({"shape": "circle", "length": "0.25 mm", "width": "0.25 mm"}, circle(0.25)),
        ({"shape": "oblong", "length": "0.6 mm", "width": "0.2 mm"}, oblong(0.6, 0.2)),
        (
            {"shape": "rounded", "length": "0.6 mm", "width": "0.2 mm", "corner": "50 um"},
            rounded(0.6, 0.2, 0.05),
        ),
    ],
)
def test_every_shape(given, shape):
    answer = evaluate("area-ratio", {**given, "foil": "80 um"})
    assert answer.outputs["area_ratio"] == pytest.approx(area_ratio(shape, 80))


@pytest.mark.parametrize(
    "wrong",
    [
        {"shape": "rectangle", "length": "0.6 mm"},
        {"shape": "circle", "length": "0.6 mm", "width": "0.3 mm"},
        {"shape": "rectangle", "length": "0.6 mm", "width": "0.3 mm", "corner": "0.05 mm"},
        {"shape": "rounded", "length": "0.6 mm", "width": "0.3 mm", "corner": "0.2 mm"},
    ],
)
def test_shapes_that_are_not_are_refused(wrong):
    with pytest.raises(LandwiseError):
        evaluate("area-ratio", {**wrong, "foil": "80 um"})


def test_volume_is_area_foil_transfer():
    found = evaluate(
        "paste-volume",
        {
            "shape": "circle",
            "length": "0.3 mm",
            "foil": "100 um",
            "technology": "electroformed",
            "powder": "T5",
            "alloy": "sn63pb37",
        },
    ).outputs
    band = transfer(0.75, "electroformed", "T5")
    full = circle(0.3).area_mm2 * 0.1
    assert found["volume"] == pytest.approx(full * band.mean)
    assert found["sd"] == pytest.approx(full * band.sd)
    assert found["solder_volume"] == pytest.approx(full * band.mean * paste_metal_fraction("T5", "sn63pb37"))


def test_transfer_outside_its_range_is_refused():
    with pytest.raises(LandwiseError, match="no transfer is known"):
        evaluate("paste-transfer", {"area_ratio": "0.2"})


def test_contract_names():
    names = {entry.key: [item.name for item in entry.inputs] for entry in BOOK}
    assert names["area-ratio"] == ["shape", "length", "width", "corner", "foil"]
    assert names["paste-transfer"] == ["area_ratio", "technology", "powder"]
    assert names["paste-volume"][:7] == ["shape", "length", "width", "corner", "foil", "technology", "powder"]
    assert {"mean", "sd"} <= {output.name for output in formula("paste-transfer").outputs}
    assert {"volume", "sd", "solder_volume"} <= {output.name for output in formula("paste-volume").outputs}


def test_hole_conventions_are_a_choice():
    given = {**CASES["paste-in-hole"], "ring": "0.25 mm", "fillets": "2"}
    hole, lead = (
        evaluate("paste-in-hole", {**given, "turns_about": word}).outputs["solder"] for word in ("hole", "lead")
    )
    assert hole > lead
    with pytest.raises(InputError):
        evaluate("paste-in-hole", {**given, "fillets": "3"})
