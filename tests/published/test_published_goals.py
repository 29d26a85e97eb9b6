"""Fillet goals and courtyards of every level against a second reading of the land-pattern standard's tables. [mm]

IPC-7351B tables 3-2, 3-3, 3-4, 3-15, 3-16, 3-18 and 3-22 as an open transcription in C prints them
(`ipc7351b/table.c`, read 29 November 2026; second-hand: the standard itself could not be opened). Levels: most,
nominal, least.
"""

from __future__ import annotations

import pytest

from landwise.lands.goals import goals

LEVELS = ("most", "nominal", "least")
USUAL_COURTYARD = (0.50, 0.25, 0.10)
SMALL_COURTYARD = (0.20, 0.15, 0.10)
NONE = (0.0, 0.0, 0.0)
# Toe, heel, side, courtyard. In the transcription's J-lead table toe and heel stand as the lead's ends are named
# there: its heel is the outer end.
TABLES = {
    "gull-wing": ("3-2", (0.55, 0.35, 0.15), (0.45, 0.35, 0.25), (0.05, 0.03, 0.01), USUAL_COURTYARD),
    "gull-wing fine": ("3-3", (0.55, 0.35, 0.15), (0.45, 0.35, 0.25), (0.01, -0.02, -0.04), USUAL_COURTYARD),
    "J-lead": ("3-4", (0.55, 0.35, 0.15), (0.10, 0.0, -0.10), (0.05, 0.03, 0.01), USUAL_COURTYARD),
    "leadless": ("3-15, 3-16", (0.40, 0.30, 0.20), NONE, (-0.04, -0.04, -0.04), USUAL_COURTYARD),
    "leadless pulled back": (
        "3-18",
        (0.05, 0.0, -0.05),
        (0.05, 0.0, -0.05),
        (0.05, 0.0, -0.05),
        USUAL_COURTYARD,
    ),
    "flat lead": ("3-22", (0.30, 0.20, 0.10), NONE, (0.05, 0.0, -0.05), SMALL_COURTYARD),
    # Table 3-5 and 3-6; their heel is 0.00, that of the first edition, which is used here, -0.05.
    "chip": ("3-5", (0.55, 0.35, 0.15), None, (0.05, 0.0, -0.05), USUAL_COURTYARD),
    "small chip": ("3-6", (0.30, 0.20, 0.10), None, (0.05, 0.0, -0.05), SMALL_COURTYARD),
}


@pytest.mark.parametrize("form", TABLES)
@pytest.mark.parametrize("level", LEVELS)
def test_goals_are_those_of_the_standard_s_tables(form, level):
    _, *printed = TABLES[form]
    found, at = goals(form, level), LEVELS.index(level)
    ours = (found.toe_mm, found.heel_mm, found.side_mm, found.courtyard_mm)
    for value, levels in zip(ours, printed, strict=True):
        assert levels is None or value == pytest.approx(levels[at], abs=1e-9), (form, level)


def test_fine_gull_wings_begin_at_the_pitch_that_the_tables_name():
    from landwise.lands.goals import FINE_PITCH_MM

    assert FINE_PITCH_MM == 0.625  # the titles of tables 3-2 and 3-3
