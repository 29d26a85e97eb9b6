"""The steps that every figure of an option goes back to: lands, print, joints, defect rates, each worked once.

Each function here works one station from leaves of the study and from earlier stations; `Bench` keeps the step beside
what it gave.
"""

from __future__ import annotations

from collections.abc import Mapping

from landwise.access.inspection import sight
from landwise.assembly.drawn import DRAWS, POINTS
from landwise.assembly.knowledge import Knowledge
from landwise.assembly.lineprint import LineRelease
from landwise.assembly.partmodel import part_model
from landwise.assembly.partrates import OwnRate, PartRates, part_rates
from landwise.assembly.scatter import Scatter
from landwise.designing import Design, Designer
from landwise.designing import Line as Printer
from landwise.designing.landsearch import LandChoice, lands_and_print
from landwise.designing.words import land_words
from landwise.evidence.trails import Given, Step, earlier, worked
from landwise.joints.mounted import Mounted, mounted
from landwise.joints.standing import BallStand, ball_stand
from landwise.judging.leaves import of_outline, of_rule
from landwise.lands import RULE_REASONS, LandPattern, LandRules, land_pattern
from landwise.outlines import Outline, terminals
from landwise.printing import Bridging, FoilWindow, bridging, foil_window, print_part
from landwise.printing.apertures import RULE_REASONS as APERTURE_REASONS
from landwise.printing.apertures import ApertureRules
from landwise.printing.model import Aperture, Foil, Powder, Print, Technology

Leaves = Mapping[str, Given]


def moved_lands(
    outline: Outline,
    rules: LandRules,
    opening_rules: ApertureRules,
    scatter: Scatter,
    foil_um: float,
    technology: Technology,
    powder: Powder,
) -> LandPattern:
    """The lands inside their goals whose designed print leaves the widest margin; the default's where none gains."""
    printer = Printer(scatter, technology, powder)
    return lands_and_print(outline, printer, foil_um, rules=opening_rules, land_rules=rules).pattern


def moved_lands_step(
    outline: Outline, rules: LandRules, opening: Step, leaves: Leaves, scatter: Given, result: LandChoice
) -> Step:
    """The land pattern where lands are designed with the print."""
    return worked(
        land_words(result),
        moved_lands,
        {
            "outline": of_outline(outline),
            "rules": _rules(rules, "rules of lands", RULE_REASONS),
            "opening_rules": earlier(opening),
            "scatter": scatter,
            **{name: leaves[name] for name in ("foil_um", "technology", "powder")},
        },
        result=result.pattern,
        inputs={"lands tried": str(result.tried)},
        key="lands",
        sources=outline.sources,
    )


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


def designed(
    outline: Outline,
    pattern: LandPattern,
    rules: ApertureRules,
    scatter: Scatter,
    foil_um: float,
    technology: Technology,
    powder: Powder,
) -> Design:
    """The openings that suit the part best on this line."""
    return Designer(outline, pattern, Printer(scatter, technology, powder), rules).design(foil_um)


def as_drawn() -> None:
    """No design: openings follow from the lands."""
    return


def design_step(
    outline: Outline, lands: Step, rules: Step, leaves: Leaves, scatter: Given, result: Design | None
) -> Step:
    """How the openings come to be what they are."""
    if result is None:
        return worked("openings drawn from the lands, as asked", as_drawn, {}, key="design")
    return worked(
        "openings designed for this part on this line",
        designed,
        {
            "outline": of_outline(outline),
            "pattern": earlier(lands),
            "rules": earlier(rules),
            "scatter": scatter,
            **{name: leaves[name] for name in ("foil_um", "technology", "powder")},
        },
        result=result,
        key="design",
    )


def _openings(design: Design | None) -> tuple[Aperture, ...] | None:
    return design.openings if design is not None and design.designed else None


def print_under(
    pattern: LandPattern,
    foil_um: float,
    technology: Technology,
    powder: Powder,
    rules: ApertureRules,
    outline: Outline,
    design: Design | None,
) -> Print:
    """The part printed through one foil."""
    foil = Foil(foil_um, technology)
    return print_part(pattern, foil, powder, rules=rules, outline=outline, openings=_openings(design))


def print_step(outline: Outline, at: Mapping[str, Step], leaves: Leaves, result: Print) -> Step:
    """The print."""
    return worked(
        "the print: apertures, paste and solder of each land",
        print_under,
        {**_printed(outline, at, leaves), "foil_um": leaves["foil_um"]},
        result=result,
        key="print",
    )


def _printed(outline: Outline, at: Mapping[str, Step], leaves: Leaves) -> dict[str, Given]:
    return {
        "pattern": earlier(at["lands"]),
        "technology": leaves["technology"],
        "powder": leaves["powder"],
        "rules": earlier(at["rules"]),
        "outline": of_outline(outline),
        "design": earlier(at["design"]),
    }


def window_over(
    pattern: LandPattern,
    foils_um: tuple[float, ...],
    technology: Technology,
    powder: Powder,
    rules: ApertureRules,
    outline: Outline,
    design: Design | None,
    release: LineRelease | None = None,
) -> FoilWindow:
    """Which foils on hand print the part; `release` is what the line measured of its own."""
    openings = _openings(design)
    return foil_window(
        pattern, foils_um, technology, powder, rules=rules, outline=outline, openings=openings, release=release
    )


def window_step(
    outline: Outline, at: Mapping[str, Step], leaves: Leaves, result: FoilWindow, release: Given | None
) -> Step:
    """The foils on hand; `release` is what the line measured of its own."""
    return worked(
        "each foil on hand tried",
        window_over,
        {**_printed(outline, at, leaves), "foils_um": leaves["foils_um"], **({"release": release} if release else {})},
        result=result,
        key="foils",
    )


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
    knowledge: Knowledge | None = None,
) -> PartRates | None:
    """Defect rates of a part, drawn over what scatters on the line; None where nothing is printed.

    Seeds follow from the part and the scatter, so the same inputs give the same numbers everywhere.
    """
    hidden = [one.number for one in terminals(outline) if sight(outline, one) != "from above"]
    height = stand.height_mm if stand else None
    model = part_model(outline, pattern, printed, scatter, stand_mm=height, hidden=hidden)
    return part_rates(model, own, knowledge=knowledge) if model else None


def rates_step(
    outline: Outline, stations: Mapping[str, Step], leaves: Mapping[str, Given], result: PartRates | None
) -> Step:
    """The simulation of its defects: with seed, size and inputs; `leaves` are scatter, own rates and own counts."""
    return worked(
        f"defects simulated at {DRAWS} draws of what is not known, up to {POINTS} points of each density a draw",
        simulated_rates,
        {
            "outline": of_outline(outline),
            "pattern": earlier(stations["lands"]),
            "printed": earlier(stations["print"]),
            "stand": earlier(stations["balls"]),
            **leaves,
        },
        result=result,
        inputs={"seed": "follows from part, print and scatter", "size": f"{DRAWS} draws × {POINTS} points"},
        key="defects",
        sources=("rate-simulation",),
    )
