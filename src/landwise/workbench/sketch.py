"""A quick picture for a place of a slider that has not been worked out yet: the print, before what follows from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from landwise.evidence.figures import Verdict
from landwise.judging.bench import Bench
from landwise.lands import land_pattern
from landwise.lands.model import LandPattern
from landwise.outlines import Outline, find
from landwise.printing import print_part
from landwise.printing.model import Print
from landwise.sheets.profile import SolderProfile
from landwise.workbench.row import Drawn, lay_out
from landwise.workbench.units import Units

MOST_SKETCHED = 60


@dataclass(frozen=True)
class Sketch:
    """One package with its print; solder is drawn schematically until it is computed."""

    outline: Outline
    pattern: LandPattern
    print_: Print | None
    is_choice: bool
    verdict: Verdict
    is_present: bool = False
    solder: SolderProfile | None = None

    @property
    def title(self) -> str:
        """Its name."""
        return self.outline.name


def sketched(names: Sequence[str], choice: str, bench: Bench, room_px: float, drawn: Drawn, units: Units) -> str:
    """The row's picture with the packages where they stand now, printed as the question says.

    Raises
    ------
    LandwiseError
        For a name that is no outline.
    """
    found = []
    for name in names[:MOST_SKETCHED]:
        outline = find(name, bench.own)
        if outline.name not in bench._laid:
            bench._laid[outline.name] = land_pattern(outline, rules=bench.land_rules)
        pattern = bench._laid[outline.name]
        # A design takes longer than a sketch may: what was designed for this foil is drawn, else the lands' openings.
        known = bench._worked.get(outline.name)
        openings = known.printed.apertures if known is not None else None
        printed = print_part(
            pattern,
            bench.line.foil,
            bench.line.powder,
            rules=bench.aperture_rules,
            outline=outline,
            openings=openings,
        )
        shown = printed if printed.apertures else None
        found.append(Sketch(outline, pattern, shown, outline.name == choice, printed.verdict))
    return lay_out(found, room_px, drawn, units).svg()
