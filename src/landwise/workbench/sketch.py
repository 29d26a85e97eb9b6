"""A quick picture for a place of a slider that has not been worked out yet: the print, before what follows from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from landwise.evidence.figures import Verdict
from landwise.judging.bench import Bench
from landwise.lands.model import LandPattern
from landwise.outlines import Outline, find
from landwise.printing import print_part
from landwise.printing.model import Aperture, Print
from landwise.sheets.profile import SolderProfile
from landwise.workbench.row import Drawn, lay_out
from landwise.workbench.units import Units

MOST_SKETCHED = 60


@dataclass(frozen=True)
class Sketch:
    """One package with its print; solder is drawn schematically, and there is no verdict, until both are worked."""

    outline: Outline
    pattern: LandPattern
    print_: Print | None
    is_choice: bool
    verdict: Verdict | None = None
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
        pattern = bench.lands(outline)
        # A design takes longer than a sketch may: what was designed for this foil is drawn, else the lands' openings.
        known = bench._worked.get(outline.name)
        openings = known.printed.apertures if known is not None else None
        printed = _printed(outline, pattern, openings, bench, drawn)
        shown = printed if printed.apertures else None
        found.append(Sketch(outline, pattern, shown, outline.name == choice))
    return lay_out(found, room_px, drawn, units).svg()


def _printed(
    outline: Outline, pattern: LandPattern, openings: tuple[Aperture, ...] | None, bench: Bench, drawn: Drawn
) -> Print:
    """The print, kept beside the drawings: a slider leaves hundreds of them, and figures are dearer to keep."""
    foil, powder, rules = bench.line.foil, bench.line.powder, bench.aperture_rules

    def make() -> Print:
        return print_part(pattern, foil, powder, rules=rules, outline=outline, openings=openings)

    return drawn.printed((outline.name, foil, powder, rules, openings), pattern, make)
