"""An invented board's fabrication files, for the tests of the review page."""

from __future__ import annotations

import io
import zipfile

import shapely

from landwise.fabdata.gerber import write_gerber


def board(pitch=0.4, rows=12):
    """An invented board: two rows of a fine pitch, a centre pad, two chips; paste and copper."""
    pads = [shapely.box(x - 0.3, k * pitch, x + 0.3, k * pitch + 0.45 * pitch) for x in (0.0, 3.0) for k in range(rows)]
    pads += [shapely.box(0.8, 0.8, 2.2, 3.2)]
    pads += [shapely.box(x, y, x + 0.5, y + 0.6) for y in (-2.0, -4.0) for x in (0.0, 1.0)]
    return {
        "invented-F_Paste.gbr": write_gerber(pads, {".FileFunction": ("Paste", "Top")}),
        "invented-F_Cu.gbr": write_gerber(pads, {".FileFunction": ("Copper", "L1", "Top")}),
    }


def packed(files):
    into = io.BytesIO()
    with zipfile.ZipFile(into, "w") as made:
        for name, content in files.items():
            made.writestr(name, content)
    return into.getvalue()
