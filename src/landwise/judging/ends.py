"""Figures of what else ends a part's life: whiskers, air, rework, handling, charge, and the hours of its die.

Classes and bounds, no numbers of life: a figure says what holds, what is marginal, and what only a test shows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from landwise.evidence.figures import Figure, Step, Verdict, worst
from landwise.judging.lifetime import environment_of
from landwise.judging.missions import OWN, mission_of
from landwise.outlines.model import ALLOY_42
from landwise.service import atmosphere, device, shaking, shelf, whiskers
from landwise.service.environments import HOURS_A_YEAR
from landwise.service.mission import MINER_SOURCE

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.study.file import PartTable

KINDS = {"powered": "with power", "off": "without power", "stored": "on the shelf"}
HOURS_UNSAID = 0.02  # of the years wanted: less is rounding
_RISK: dict[str, Verdict] = {
    "none": "holds",
    "low": "holds",
    "some": "marginal",
    "high": "marginal",  # a class of risk warns; only the standard's own exclusion of pure tin fails
    "not known": "not known",
}


def end_figures(geometry: Geometry, part: PartTable, bench: Bench, junction_c: float | None) -> tuple[Figure, ...]:
    """What else may end an option's life, most asked first; with its junction temperature where it is known. [°C]"""
    return (
        _whiskers(geometry, bench),
        _corrosion(bench),
        _handling(geometry, bench),
        _rework(geometry, bench),
        _storage(bench),
        _charge(part),
        _die_hours(bench, junction_c),
    )


def _class(key: str, title: str, verdict: Verdict, why: str, step: Step) -> Figure:
    return Figure(key=key, title=title, value=None, unit="", verdict=verdict, why=why, trail=(step,))


def _whiskers(geometry: Geometry, bench: Bench) -> Figure:
    use, outline = bench.content.use, geometry.outline
    title = "tin whiskers between terminals"
    finish = use.finish or ("solder balls" if geometry.stand is not None else "")
    gap = outline.pitch_mm - outline.terminal_width_mm.nom if outline.terminal_width_mm else 0.0
    gap = min(gap, geometry.pattern.least_copper_gap_mm) if gap > 0 else geometry.pattern.least_copper_gap_mm
    found = whiskers.whiskers(
        gap,
        finish,
        use.product_class,
        coated=use.coat != "none",
        alloy_42=outline.lead_metal == ALLOY_42,
    )
    barred = use.product_class == "3" and found.risk == "high" and found.length_um is None
    verdict: Verdict = "fails" if barred else _RISK[found.risk]
    says = f"risk {found.risk} at {gap:.2g} mm, class {use.product_class} ({whiskers.CLASSES[use.product_class]})"
    if found.risk == "not known":
        says = "the finish of its terminals isn't stated ([use] finish): ask its maker"
    elif found.meets and found.length_um:
        says += f"; two whiskers of {found.length_um:g} µm, which the standard accepts, meet across it"
    step = Step(says=f"class of risk; {whiskers.STANDARD} shows it", sources=whiskers.SOURCES)
    return _class("whiskers", title, verdict, says, step)


def _corrosion(bench: Bench) -> Figure:
    use = bench.content.use
    found = atmosphere.corrosion(use.gas, coated=use.coat != "none")
    step = Step(says=f"class of growth on coupons; {atmosphere.STANDARD} shows it", sources=atmosphere.SOURCES)
    return _class("corrosion", "corrosion by the place's air", found.verdict, found.says, step)


def _handling(geometry: Geometry, bench: Bench) -> Figure:
    title, strain = "strain where panels are parted and boards screwed down", bench.content.use.handling
    step = Step(says="a maker keeps boards of large grids within it", sources=(shaking.HANDLING_SOURCE,))
    if strain is None:
        why = "not measured: a strain gauge beside the part shows it ([use] handling)"
        return _class("handling", title, "not known", why, step)
    found = shaking.handling(strain * 1e-6, bench.content.board.thickness)
    why = f"{strain:g} µε against {found.limit * 1e6:g} µε"
    if found.guideline is not None:
        why += f"; the recalled guideline allows {found.guideline * 1e6:.0f} µε on this board"
    return _class("handling", title, found.verdict, why, step)


def _rework(geometry: Geometry, bench: Bench) -> Figure:
    if geometry.outline.drilled:
        step = Step(says="drilled: not through reflow", sources=("three-passes",))
        return _class("rework", "reflow passes", "holds", "drilled: it sees no reflow", step)
    found = shelf.passes(bench.content.board.sides, bench.content.use.reworks)
    why = f"{found.seen} of {found.allowed} passes: {bench.content.board.sides} side(s), two for each rework"
    step = Step(says="most reflow passes of one part", sources=("three-passes",))
    return _class("rework", "reflow passes", found.verdict, why, step)


def _charge(part: PartTable) -> Figure:
    hbm, cdm = shelf.esd_verdict(part.hbm, "hbm"), shelf.esd_verdict(part.cdm, "cdm")
    latch = shelf.latch_up_verdict(part.latch_up, None if part.latch_up is None else True)
    of: tuple[tuple[str, float | None, Literal["hbm", "cdm"]], ...] = (
        ("human body", part.hbm, "hbm"),
        ("charged device", part.cdm, "cdm"),
    )
    said = [
        f"{name} {volts:g} V, class {shelf.esd_class(volts, kind)}" for name, volts, kind in of if volts is not None
    ]
    if part.latch_up is not None:
        said.append(f"latch-up {part.latch_up:g} mA")
    why = "; ".join(said) or "its data sheet's classes aren't stated (hbm, cdm, latch_up of the part)"
    step = Step(says="classes by JS-001, JS-002 and JESD78", sources=shelf.ESD_SOURCES)
    stated = [v for v in (hbm, cdm, latch) if v != "not known"]
    return _class("charge", "charge and latch-up", worst(stated) if stated else "not known", why, step)


def _storage(bench: Bench) -> Figure:
    use, title = bench.content.use, "storage before assembly"
    says = f"sealed bags {shelf.BAG_MONTHS:g} months, out of them {shelf.OPEN_DAYS:g} days"
    step = Step(says=says, sources=("bag-twelve-months", "open-120-days", "date-code-practice"))
    if use.sealed is None and use.open_days is None:
        why = "how long parts lie before assembly isn't stated ([use] sealed, open_days)"
        return _class("storage", title, "not known", why, step)
    sealed, opened = use.sealed or 0.0, use.open_days or 0.0
    word = shelf.storage(sealed, opened, use.retested)
    why = f"{sealed:g} months sealed and {opened:g} days out of the bag"
    why += ", tested for solderability since" if use.retested else ""
    if word != "holds":
        why += "; a solderability test (J-STD-002) shows whether terminals still take solder"
    return _class("storage", title, word, why, step)


def _die_hours(bench: Bench, junction_c: float | None) -> Figure:
    use, title = bench.content.use, "hours of hot operation that stand for the mission"
    step = Step(says="Arrhenius with the automotive standard's 0.7 eV", sources=device.SOURCES)
    mission = mission_of(use)
    if mission is None:
        why = "no hours at temperatures are stated ([use] profile or hours)"
        return _class("die-hours", title, "not known", why, step)
    rise = 0.0 if mission.where == "junction" or junction_c is None else max(junction_c - use.ambient, 0.0)
    junctions = mission.at_junction(rise)
    found = device.hot_hours(junctions)
    name = "the study's own hours" if mission.name == OWN else mission.name
    why = f"{name} is worth {found.worth:.0f} h at {device.TEST_C:g} °C; the usual plan runs {found.usual:.0f} h"
    word: Verdict = "holds" if found.covered else "marginal"
    if mission.where == "ambient":
        why += f"; with {rise:.0f} K over the air" if junction_c is not None else "; its rise over the air isn't known"
        if junction_c is None and found.covered:
            word = "not known"
    if mission.off or mission.stored:
        why += "; hours without power count as if it had power: a bound"
    years = environment_of(use).years
    left = years * HOURS_A_YEAR - mission.hours - mission.off_h
    if left > HOURS_UNSAID * years * HOURS_A_YEAR:
        why += f"; {left:.0f} of the {years * HOURS_A_YEAR:.0f} h of the years wanted are stated neither on nor off"
    return Figure(
        key="die-hours",
        title=title,
        value=None,
        unit="",
        verdict=word,
        why=why,
        trail=(step, *(_term(one) for one in device.hot_terms(junctions)), _sum(found)),
    )


def _term(term: device.Term) -> Step:
    """One term of the sum, as a remark with its numbers."""
    return Step(
        says=f"{term.hours:.0f} h {KINDS[term.kind]} at {term.temperature_c:g} °C over {term.factor:.3g} h of the"
        f" field for an hour of the test: {term.worth_h:.3g} h",
        formula="device-acceleration",
        sources=device.SOURCES,
    )


def _sum(found: device.Worth) -> Step:
    return Step(
        says=f"all terms are {found.worth:.0f} h, {found.worth / found.usual:.2g} of the usual plan's"
        f" {found.usual:.0f} h; a sum of hours knows no order and no rest, and one energy stands for every way to fail",
        sources=(MINER_SOURCE, *device.SOURCES),
    )
