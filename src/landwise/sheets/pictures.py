"""The report's pictures of one part: the print in section, area against cost, and what the cost is made of."""

from __future__ import annotations

from landwise.assembly.lines import Line
from landwise.assembly.window import Grid, Window, process_window
from landwise.costs.loads import TITLES
from landwise.judging.bench import Geometry
from landwise.judging.line import scatter_of
from landwise.judging.results import OptionResult, PartResult, StudyResult
from landwise.memory import known
from landwise.results.verdict import verdict_of
from landwise.sheets.barchart import stacked_chart
from landwise.sheets.chartaxes import chart_svg
from landwise.sheets.marks import scale_text
from landwise.sheets.scatterchart import Spot, scatter_chart
from landwise.sheets.section import section_of, weakest
from landwise.sheets.windowmap import window_chart
from landwise.study.file import StudyFile

WIDEST_MM = 165.0
SCALES = (200.0, 150.0, 100.0, 80.0, 60.0, 50.0, 40.0, 30.0, 25.0, 20.0, 15.0, 10.0)
MOST_OPTIONS = 10


def section_svg(option: OptionResult, prefix: str) -> str | None:
    """The weakest land's print in section at the largest usual scale that fits; None if nothing is printed."""
    pattern, printed = option.geometry.pattern, option.geometry.printed
    if not printed.apertures:
        return None
    terminal = weakest(printed)
    for magnification in SCALES:
        picture = section_of(pattern, printed, terminal, magnification=magnification)
        if picture.box[2] - picture.box[0] <= WIDEST_MM:
            title = f"{option.name}: print of terminal {terminal} in section, drawn {scale_text(magnification)}"
            return chart_svg(picture, title, option.geometry.printed.why, prefix)
    return None


def area_against_cost(part: PartResult, unit: str, prefix: str) -> str | None:
    """Feasible options in the plane of board area and cost; None for fewer than two."""
    options = [option for option in part.options if option.feasible][:MOST_OPTIONS]
    if len(options) < 2:
        return None
    spots = [
        Spot(
            option.name,
            option.area_mm2,
            option.cost.total,
            y_range=(option.cost.low, option.cost.high),
            verdict=verdict_of(option),
            is_choice=option is part.chosen,
        )
        for option in options
    ]
    return scatter_chart(spots, "board area", f"cost on one good board, {unit}", x_unit="mm2", prefix=prefix)


def cost_parts(part: PartResult, unit: str, prefix: str) -> str | None:
    """What each option's cost on one board is made of."""
    options = [option for option in part.options if option.feasible][:MOST_OPTIONS]
    if not options:
        return None
    titles = list(dict.fromkeys(TITLES[item.line] for option in options for item in option.cost.items))
    rows = []
    for option in options:
        cost: dict[str, float] = {}
        for item in option.cost.items:
            cost[TITLES[item.line]] = cost.get(TITLES[item.line], 0.0) + item.value
        rows.append((option.name, [(title, cost.get(title, 0.0)) for title in titles]))
    return stacked_chart(rows, f"cost on one good board, {unit}", prefix=prefix)


def window_of(geometry: Geometry, line: Line, content: StudyFile) -> Window | None:
    """The process window of an option on the study's line; None where nothing is printed."""
    if geometry.rates is None:
        return None
    known_draws, scatter = geometry.knowledge, scatter_of(line, content)
    stand, target = geometry.stand.height_mm if geometry.stand else None, content.line.target

    def work() -> Window | None:
        return process_window(
            geometry.outline,
            geometry.pattern,
            scatter,
            technology=line.technology,
            powder=line.powder,
            stand_mm=stand,
            knowledge=known_draws,
            grid=Grid(target=target),
        )

    return known(
        work,
        "window",
        geometry.outline,
        geometry.pattern.style,
        geometry.pattern.level,
        geometry.pattern.lands,
        scatter,
        line.technology,
        line.powder,
        stand,
        target,
        known_draws.key if known_draws is not None else "shipped",
    )


def window_svg(option: OptionResult, result: StudyResult, prefix: str) -> str | None:
    """The map of that window with the study's print."""
    window = window_of(option.geometry, result.line, result.content)
    if window is None:
        return None
    foil, design = result.line.foil_um, option.geometry.design
    if design is None or not design.designed:
        here = (foil, result.content.line.reduction / 1000)
        return window_chart(window, here=here, beside=prints_beside(option, foil), name=option.name, prefix=prefix)
    beside = [("as large as the lands", foil, 0.0), *prints_beside(option, foil)]
    # The map's reductions are even all round; a design stands on it by its width.
    here = (foil, max(0.0, -design.changes.width_mm / 2))
    return window_chart(window, here=here, beside=beside, name=option.name, prefix=prefix)


def prints_beside(option: OptionResult, foil_um: float) -> list[tuple[str, float, float]]:
    """The maker's print, where its drawing shows one: name, foil [µm], and what it takes off an edge [mm]."""
    carried = option.geometry.outline.published_land
    if carried is None or carried.aperture_width_mm is None:
        return []
    return [("maker's", carried.foil_um or foil_um, max(0.0, (carried.width_mm - carried.aperture_width_mm) / 2))]
