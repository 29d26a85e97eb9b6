"""The line a study is worked on, and what scatters on it."""

from __future__ import annotations

from dataclasses import replace

from landwise.assembly.depositspread import Measured, deposit_spread
from landwise.assembly.levels import Counted
from landwise.assembly.lines import Line, preset
from landwise.assembly.scatter import Scatter, scatter
from landwise.errors import InputError
from landwise.outlines import Outline, find
from landwise.study.file import StudyFile
from landwise.study.linetable import CountTable


def line_of(content: StudyFile) -> Line:
    """The study's line: its preset with whatever the study states."""
    table = content.line
    line = preset(table.preset)
    stated: dict[str, object] = {
        "foils_um": tuple(sorted(table.foils)) if table.foils else None,
        "foil_um": table.foil,
        "technology": table.technology,
        "powder": table.powder,
        "steps_allowed": table.steps_allowed,
        "least_pitch_mm": table.least_pitch,
        "least_ball_pitch_mm": table.least_ball_pitch,
        "inspection": tuple(table.inspection) if table.inspection is not None else None,
        "drilled_parts": table.drilled_parts,
        "drilled_soldering": table.drilled_soldering,
        "print_offset_mm": table.print_offset,
        "placement_offset_mm": table.placement_offset,
    }
    given = {name: value for name, value in stated.items() if value is not None}
    if "foils_um" in given and "foil_um" not in given and line.foil_um not in (table.foils or []):
        # The preset's foil is not on hand: work with the nearest that is.
        given["foil_um"] = min(table.foils or [], key=lambda um: abs(um - line.foil_um))
    # A mapping of unlike fields: the table that they come from was checked field by field.
    return replace(line, **given)  # type: ignore[arg-type]


def scatter_of(line: Line, content: StudyFile) -> Scatter:
    """What scatters on a line, with the study's own terms."""
    table, own = content.line, line_of(content)  # `line` may be one that the board's choice tries
    measured = deposit_spread(
        Measured(
            row.area_ratio,
            row.spread[0],
            row.spread[1],
            row.spread[2],
            row.technology or own.technology,
            row.powder or own.powder,
            mean=None if row.mean is None else (row.mean[0], row.mean[1], row.mean[2]),
        )
        for row in table.spread
    )
    return scatter(line.print_offset_mm, line.placement_offset_mm, table.scatter, table.transfer, measured)


def counted_from(row: CountTable, own: tuple[Outline, ...] = ()) -> Counted:
    """A count as the study states it.

    Raises
    ------
    InputError
        For a package that isn't known.
    """
    try:
        outline = find(row.package, own)
    except InputError as error:
        raise error.within(place="line, counts") from None
    return Counted(outline.family, row.kind, row.defects, row.joints, outline.name, outline.pitch_mm)
