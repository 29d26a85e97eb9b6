"""The steps that every figure of an option goes back to: lands, print, joints, defect rates, each worked once.

Each function here works one station from leaves of the study and from earlier stations; `Bench` keeps the step beside
what it gave.
"""

from __future__ import annotations

from collections.abc import Mapping

from landwise.access.inspection import sight
from landwise.assembly.drawn import DRAWS, POINTS
from landwise.assembly.partmodel import part_model
from landwise.assembly.partrates import OwnRate, PartRates, part_rates
from landwise.assembly.scatter import Scatter
from landwise.evidence.trails import Given, Step, earlier, worked
from landwise.joints.mounted import Mounted, mounted
from landwise.joints.standing import BallStand, ball_stand
from landwise.judging.leaves import of_outline, of_rule
from landwise.lands import RULE_REASONS, LandPattern, LandRules, land_pattern
from landwise.outlines import Outline, terminals
from landwise.printing import Bridging, Demand, FoilWindow, bridging, foil_window, line_demand, print_part
from landwise.printing.apertures import RULE_REASONS as APERTURE_REASONS
from landwise.printing.apertures import ApertureRules
from landwise.printing.model import Foil, Powder, Print, Technology

Leaves = Mapping[str, Given]


def lands_step(outline: Outline, rules: LandRules, result: LandPattern) -> Step:
    """The land pattern."""
    return worked(
        "land pattern",
        land_pattern,
        {"outline": of_outline(outline), "rules": _rules(rules, "rules of lands", RULE_REASONS)},
        result=result,
        key="lands",
        sources=outline.sources,
    )


def aperture_rules(reduction_mm: float, board_mm: float) -> ApertureRules:
    """The study's own reduction and board with the usual rules of apertures."""
    return ApertureRules(reduction_mm=reduction_mm, board_mm=board_mm)


def rules_step(rules: ApertureRules, leaves: Leaves) -> Step:
    """The rules that apertures follow."""
    usual = rules == aperture_rules(leaves["reduction_mm"].value, leaves["board_mm"].value)
    if usual:
        given = {name: leaves[name] for name in ("reduction_mm", "board_mm")}
        return worked("rules of apertures", aperture_rules, given, result=rules, key="aperture-rules")
    return worked(
        "rules of apertures",
        _as_they_are,
        {"rules": _rules(rules, "rules of apertures", APERTURE_REASONS)},
        result=rules,
        key="aperture-rules",
    )


def _as_they_are(rules: ApertureRules) -> ApertureRules:
    return rules


def _rules(rules: LandRules | ApertureRules, name: str, reasons: Mapping[str, tuple[str, str]]) -> Given:
    sources = dict.fromkeys(source for _, source in reasons.values() if source)
    return of_rule(rules, name, *sources, reason="each with its reason in `landwise defaults`")


def print_under(
    pattern: LandPattern,
    foil_um: float,
    technology: Technology,
    powder: Powder,
    rules: ApertureRules,
    outline: Outline,
) -> Print:
    """The part printed through one foil."""
    return print_part(pattern, Foil(foil_um, technology), powder, rules=rules, outline=outline)


def print_step(outline: Outline, lands: Step, rules: Step, leaves: Leaves, result: Print) -> Step:
    """The print."""
    return worked(
        "the print: apertures, paste and solder of each land",
        print_under,
        {
            "pattern": earlier(lands),
            "foil_um": leaves["foil_um"],
            "technology": leaves["technology"],
            "powder": leaves["powder"],
            "rules": earlier(rules),
            "outline": of_outline(outline),
        },
        result=result,
        key="print",
    )


def window_over(
    pattern: LandPattern,
    foils_um: tuple[float, ...],
    technology: Technology,
    powder: Powder,
    rules: ApertureRules,
    outline: Outline,
) -> FoilWindow:
    """Which foils on hand print the part."""
    return foil_window(pattern, foils_um, technology, powder, rules=rules, outline=outline)


def window_step(outline: Outline, lands: Step, rules: Step, leaves: Leaves, result: FoilWindow) -> Step:
    """The foils on hand."""
    return worked(
        "each foil on hand tried",
        window_over,
        {
            "pattern": earlier(lands),
            "foils_um": leaves["foils_um"],
            "technology": leaves["technology"],
            "powder": leaves["powder"],
            "rules": earlier(rules),
            "outline": of_outline(outline),
        },
        result=result,
        key="foils",
    )


def demand_on(
    pattern: LandPattern,
    foil_um: float,
    technology: Technology,
    powder: Powder,
    foils_um: tuple[float, ...],
    steps_allowed: bool,
    rules: ApertureRules,
    outline: Outline,
) -> Demand:
    """What the part asks of the line beyond its foil."""
    foil = Foil(foil_um, technology)
    return line_demand(pattern, foil, powder, foils_um, steps_allowed=steps_allowed, rules=rules, outline=outline)


def bridging_step(printed: Step, result: Bridging | None) -> Step:
    """The side where neighbouring deposits come nearest."""
    return worked(
        "the nearest neighbouring deposits", bridging, {"printed": earlier(printed)}, result=result, key="neighbours"
    )


def balls_step(outline: Outline, lands: Step, printed: Step, result: BallStand | None) -> Step:
    """A grid on its molten balls."""
    return worked(
        "molten balls under the part's weight",
        ball_stand,
        {"outline": of_outline(outline), "pattern": earlier(lands), "printed": earlier(printed)},
        result=result,
        key="balls",
    )


def mounted_step(outline: Outline, lands: Step, printed: Step, balls: Step, board_mm: Given, result: Mounted) -> Step:
    """All joints after reflow."""
    return worked(
        "joints after reflow",
        mounted,
        {
            "outline": of_outline(outline),
            "pattern": earlier(lands),
            "printed": earlier(printed),
            "stand": earlier(balls),
            "board_mm": board_mm,
        },
        result=result,
        key="joints",
    )


def simulated_rates(
    outline: Outline,
    pattern: LandPattern,
    printed: Print,
    stand: BallStand | None,
    scatter: Scatter,
    own: OwnRate | None,
) -> PartRates | None:
    """Defect rates of a part, drawn over what scatters on the line; None where nothing is printed.

    Seeds follow from the part and the scatter, so the same inputs give the same numbers everywhere.
    """
    hidden = [one.number for one in terminals(outline) if sight(outline, one) != "from above"]
    height = stand.height_mm if stand else None
    model = part_model(outline, pattern, printed, scatter, stand_mm=height, hidden=hidden)
    return part_rates(model, own) if model else None


def rates_step(
    outline: Outline, stations: Mapping[str, Step], scatter: Given, own: Given, result: PartRates | None
) -> Step:
    """The simulation of its defects: with seed, size and inputs."""
    return worked(
        f"defects simulated at {DRAWS} draws of what is not known, {POINTS} points of each density a draw",
        simulated_rates,
        {
            "outline": of_outline(outline),
            "pattern": earlier(stations["lands"]),
            "printed": earlier(stations["print"]),
            "stand": earlier(stations["balls"]),
            "scatter": scatter,
            "own": own,
        },
        result=result,
        inputs={"seed": "follows from part, print and scatter", "size": f"{DRAWS} draws × {POINTS} points"},
        key="defects",
        sources=("rate-simulation",),
    )
