"""Figure of the print's margin: how far the nearest defect lies, in standard deviations of the line's scatter."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.designing import Design, design_words
from landwise.designing.margins import margin_of
from landwise.designing.words import reason_words, way_words
from landwise.evidence.figures import Figure, Verdict, figure
from landwise.evidence.trails import earlier, worked
from landwise.quantities import significant

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry

KEY, TITLE = "print-margin", "margin of the print, standard deviations"
FAILS = 10.0  # times the target, as for the rates of joints: a level is hardly known better than that


def margins_of(design: Design) -> tuple[float, float, float]:
    """Standard deviations to the nearest defect: least of the transfer's band, middle, most."""
    at = design.margins
    if at is None:
        raise ValueError("a design without margins")
    both = (at.low, at.high, at.middle)
    return min(both), at.middle, max(both)


def print_margin_figure(geometry: Geometry, bench: Bench) -> Figure:
    """How far the nearest way to fail lies, and which one it is."""
    design = geometry.design
    if design is None or design.margins is None:
        why = "openings as the lands, as asked: no margin is worked" if design is None else reason_words(design)
        return Figure(key=KEY, title=TITLE, value=None, better="more", why=why)
    step = worked(
        design_words(design),
        margins_of,
        {"design": earlier(geometry.stations["design"])},
        inputs={way_words(key): f"{significant(margin, 2)} standard deviations" for key, margin in design.ways},
        valid="printed joints on this foil; the interval is that of the transfer's band",
        sources=("landwise-rule",),
    )
    target = bench.content.line.target
    limit, least = float(margin_of(target / 1e6)), float(margin_of(min(0.5, FAILS * target / 1e6)))
    # `margins_of` gives a number: a step's value may be none for other steps.
    verdict: Verdict = "holds" if step.value >= limit else "marginal" if step.value >= least else "fails"  # type: ignore[operator]
    nearest = min(design.ways, key=lambda way: way[1], default=("", 0.0))[0]
    return figure(
        step,
        key=KEY,
        title=TITLE,
        better="more",
        limit=limit,
        limit_source="study",
        verdict=verdict,
        why=f"{way_words(nearest)} lie nearest; {target:g} per million joints lie {limit:.1f} standard deviations away",
    )
