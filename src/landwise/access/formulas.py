"""Formula-book entries of the access room."""

from __future__ import annotations

from landwise.access.escape import largest_via_land, layers_needed, tracks_between
from landwise.evidence.book import Formula, Input, Output, Outputs
from landwise.untyped import Fields


def _escape(pitch: float, land: float, track: float, space: float, rows: int | None) -> Outputs:
    tracks = tracks_between(pitch, land, track, space)
    outputs: Fields = {"tracks": tracks}
    if rows is not None:
        outputs["layers"] = layers_needed(-(-rows // 2), tracks)
    return outputs


def _via_land(pitch: float, land: float, clearance: float) -> Outputs:
    return {"via_land": largest_via_land(pitch, land, clearance)}


BOOK: tuple[Formula, ...] = (
    Formula(
        "escape-tracks",
        "Tracks between neighbouring lands of a grid, and layers to bring it out",
        (
            Input("pitch", "length", "ball pitch"),
            Input("land", "length", "land diameter"),
            Input("track", "length", "track width"),
            Input("space", "length", "least space"),
            Input("rows", "count", "balls along the shorter side, for the layers", optional=True),
        ),
        (Output("tracks", "", "tracks between two lands"), Output("layers", "", "signal layers of a full grid")),
        _escape,
        "full grids, first order; real layouts with unused balls need fewer",
        ("escape-geometry", "ths7319-escape"),
        "n = ⌊(p − d − S)/(W + S)⌋; layers = 1 + ⌈(rings − 1 − n)/(1 + n)⌉",
    ),
    Formula(
        "via-land",
        "Largest via land between four lands",
        (
            Input("pitch", "length", "ball pitch"),
            Input("land", "length", "land diameter"),
            Input("clearance", "length", "copper clearance"),
        ),
        (Output("via_land", "mm", "largest via land"),),
        _via_land,
        "square grids",
        ("escape-geometry",),
        "√2·p − d − 2c",
    ),
)
