"""The board's page of life in service: the life curve, part by part, and the way towards qualification."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from landwise.errors import ValidityError
from landwise.evidence.figures import Figure, worst
from landwise.evidence.sources import source
from landwise.judging.fieldcost import RATE
from landwise.judging.life import own_heat_of, place_of
from landwise.judging.lifetime import board_expansion, environment_of, life_of, own_tests, sets_of
from landwise.judging.lifevalues import damage_terms
from landwise.judging.results import OptionResult, PartResult, StudyResult
from landwise.quantities import significant
from landwise.service.attachment import UNKNOWN_METAL, Attachment
from landwise.service.bands import Band
from landwise.service.chamber import USUAL_TEST, chamber_cycles
from landwise.service.environments import Environment
from landwise.service.lifeverdict import rounded
from landwise.service.lives import Life, board_failed, parts_of
from landwise.service.mission import MINER_LIMITS
from landwise.service.qualification import TESTS, grade
from landwise.sheets.lifechart import Curve, life_chart
from landwise.sheets.look import LIGHT, VERDICT_LOOKS, Theme
from landwise.study.file import StudyFile

POINTS = 90
MOST_TIMES = 100.0  # the years or cycles wanted: beyond, a life means only that nothing limits
CAUTION = (
    "A curve of this kind compares packages. It does not promise a life: qualify the product by test, and where people "
    "depend on it leave the decision to those licensed to take it."
)
# Figures of life in service, in the order in which ties are told.
SERVICE = (
    "life",
    "test-life",
    "vibration",
    "shock",
    "junction-temperature",
    "push",
    "pull",
    "bounce",
    "decoupling",
    "migration-field",
    "clearance",
    "floor-life",
    "reflow-peak",
    "hang",
)
Lives = list[tuple[Life, int]]


def life_page(result: StudyResult) -> dict[str, object] | None:
    """The section's data; None where no part has a known life."""
    place = environment_of(result.content.use)
    after, left_out = _lives(result, [(part, part.chosen) for part in result.parts])
    if not after:
        return None
    years = np.array([place.years])
    value, low, high = (float(share[0]) for share in board_failed(after, years))
    unshown = [part.name for part in result.parts if part.chosen and part.part.fitted and _unshown(part.chosen)]
    band = f"{_share(low)}…{_share(high)}"
    if unshown:
        # A level that nobody measured is no headline: the computed middle is left out.
        told = (
            f"What share of boards loses a joint of these parts in {place.years:g} years is not shown: nothing measured"
            f" gives the level of {', '.join(unshown)}, and the computed interval, {band}, is all there is."
        )
    else:
        told = (
            f"After {place.years:g} years {_share(value)} ({band}) of boards have lost a joint of these parts to"
            " temperature cycles."
        )
    return {
        "says": f"{_place_says(place)} {told} {_capital(_share(place.failures))} is accepted.",
        "chamber": _chamber_says(place, _heated(result)),
        "ratios": _ratios(result, place),
        "decomposed": _decomposed(result, place),
        "own": [_field_says(result), *_own_says(result), *_own_heat(result), *_terms_says(result, place)],
        "rows": [_row(part) for part in result.parts if part.chosen],
        "left_out": left_out,
        "qualification": qualification_rows(result),
        "grade": _grade_says(result),
        "caution": CAUTION,
    }


def life_svg(result: StudyResult, theme: Theme = LIGHT) -> str | None:
    """The life curve of the chosen board, with today's beside it; None where no life is known."""
    place = environment_of(result.content.use)
    after, _ = _lives(result, [(part, part.chosen) for part in result.parts])
    if not after:
        return None
    today, _ = _lives(result, [(part, part.present) for part in result.parts])
    longest = max(one.median_years for one, _ in after)
    end = min(max(10 * place.years, longest), 1000 * place.years)
    years = np.geomspace(place.years / 10, end, POINTS)
    curves = [Curve("after", *board_failed(after, years))]
    if today and [id(one) for one, _ in today] != [id(one) for one, _ in after]:
        curves.append(Curve("today", *board_failed(today, years)))
    return life_chart(years, curves, place.years, place.failures, prefix="life", theme=theme)


def _lives(result: StudyResult, chosen: Sequence[tuple[PartResult, OptionResult | None]]) -> tuple[Lives, list[str]]:
    found: Lives = []
    left = []
    for part, option in chosen:
        if option is None or not part.part.fitted:
            continue
        try:
            found.append((_life_of(option, result.content)[1], part.count))
        except ValidityError as reason:
            left.append(f"{part.name} in {option.name}: {reason.message}")
    return found, left


def _life_of(option: OptionResult, content: StudyFile) -> tuple[Attachment, Life]:
    """An option's joint and life, with the cycles of its own heat."""
    return life_of(option.geometry, content, place_of(option.figures["life"], content))


def _place_says(place: Environment) -> str:
    kinds = "; ".join(
        f"{line.swing_k:g} K {line.per_year:g} times a year, {line.dwell_min / 60:g} h at each end"
        for line in place.cycles
    )
    return f"{place.name[0].upper()}{place.name[1:]} ({place.says}): {kinds}."


def _unshown(option: OptionResult) -> bool:
    """Whether nothing measured gives the level of an option's life, and its interval doesn't hold by itself."""
    life = option.figures["life"]
    return life.verdict == "not known" or (not life.measured and life.verdict != "holds")


def _heated(result: StudyResult) -> bool:
    """Whether some chosen part makes cycles by its own heat."""
    return any(
        any(line.own for line in place_of(part.chosen.figures["life"], result.content).cycles)
        for part in result.parts
        if part.chosen
    )


def _chamber_says(place: Environment, heated: bool) -> str:
    """What the years wanted are worth in the usual test, by every set of constants that covers them."""
    found = chamber_cycles(place)
    name = f"{USUAL_TEST.low_c:g}/{USUAL_TEST.high_c:g} °C cycles"
    left = "; ".join(f"{which} left out, {why}" for which, why in found.left_out.items())
    if not found.by_set:
        return f"No set of constants converts these years into {name}: {left}."
    values = list(found.by_set.values())
    span = f" ({significant(min(values), 2)}…{significant(max(values), 2)})" if len(values) > 1 else ""
    each = ", ".join(f"{significant(worth, 2)} by {which}" for which, worth in found.by_set.items())
    own = " Cycles of the parts' own heat are not in it." if heated else ""
    left = f"; {left}" if left else ""
    return f"The years wanted are worth {significant(values[0], 2)}{span} {name}: {each}{left}.{own}"


def _ratios(result: StudyResult, place: Environment) -> list[str]:
    """How long each chosen package lasts over the one in use, where both lives are known."""
    found = []
    for part in result.parts:
        now, then = part.present, part.chosen
        if now is None or then is None or now is then or not part.part.fitted:
            continue
        try:
            (joint, before), (_, after) = (_life_of(one, result.content) for one in (now, then))
        except ValidityError:
            continue
        ratio = rounded(after.over(before, place.failures))
        metal = ", leads of one metal" if joint.lead_metal == UNKNOWN_METAL and joint.kind == "leaded" else ""
        found.append(f"{part.name}: {then.name} lasts {ratio} times as long as {now.name}{metal}.")
    return found


def _first(result: StudyResult, place: Environment) -> tuple[float, PartResult, Attachment, Environment, Life] | None:
    """The part that ends first: its years, joint, place and life; None where no life is known."""
    least = None
    for part in result.parts:
        if part.chosen is None or not part.part.fitted:
            continue
        try:
            joint, found = _life_of(part.chosen, result.content)
        except ValidityError:
            continue
        years = found.years_to(place.failures).value
        if least is None or years < least[0]:
            least = (years, part, joint, place_of(part.chosen.figures["life"], result.content), found)
    return least


def _decomposed(result: StudyResult, place: Environment) -> str:
    """What makes the interval of the part that ends first."""
    least = _first(result, place)
    if least is None:
        return ""
    _, part, joint, place, _ = least
    widths = parts_of(joint, place, board_expansion(result.content), place.failures, sets_of(result.content))
    told = ", ".join(f"{name.replace('-', ' ')} {width:.1f}" for name, width in list(widths.items())[:6])
    return f"What makes the interval of {part.name}, in decades with one input drawn at a time: {told}."


def _field_says(result: StudyResult) -> str:
    """Whether failures in the field are money in this choice, and of which parts they are not."""
    if result.rates[RATE].value <= 0:
        return (
            "Failures in the field are no money in this choice: what one costs isn't stated ([costs.rates]"
            " field_failure)."
        )
    left = [part.name for part in result.parts if part.part.fitted and not part.counts_field]
    of = f" Not of {', '.join(left)}: nothing measured anchors the life of all their packages." if left else ""
    return f"Failures in the field within the years wanted cost {result.rates[RATE].value:g} each in this choice.{of}"


def _own_heat(result: StudyResult) -> list[str]:
    """What each chosen part warms by itself when it is switched on, or why that isn't known."""
    found = []
    for part in result.parts:
        if part.chosen is None or not part.part.fitted:
            continue
        said = own_heat_of(part.chosen.figures["life"])
        if said:
            found.append(f"{part.name} in {part.chosen.name}, own heat: {said}.")
    return found


def _terms_says(result: StudyResult, place: Environment) -> list[str]:
    """Every kind of cycle with its share of the damage, of the part that ends first; nothing where there is one."""
    least = _first(result, place)
    if least is None or len(least[3].cycles) < 2:
        return []
    _, part, _, where, found = least
    told = "; ".join(f"{name}: {text}" for name, text in damage_terms(found, where).items())
    return [
        f"Damage of {part.name}, kind by kind (Miner's sum: no order, no healing; parts have failed at sums of"
        f" {MINER_LIMITS[0]:g} to {MINER_LIMITS[1]:g}): {told}."
    ]


def _own_says(result: StudyResult) -> list[str]:
    """The study's own tests: cycles to the share that each saw, before and after it was taken in."""
    learnt = own_tests(result.content)
    if learnt is None:
        return []
    families = ", ".join(sorted(learnt.families))
    return [
        f"Your test of {shown.test.package}: {shown.test.failures} of {shown.test.samples} failed by"
        f" {shown.test.cycles:g} cycles; predicted {rounded(shown.before)} before, {rounded(shown.after)} with it."
        f" It moves lives of: {families}."
        for shown in learnt.shown
    ]


def _share(value: float) -> str:
    if value >= 1e-4:
        return f"{significant(100 * value, 2)} %"
    if value >= 1e-6:
        return f"{significant(1e6 * value, 2)} in a million"
    return "fewer than one in a million"


# cells of columns of different types
def _row(part: PartResult) -> list[Any]:
    assert part.chosen is not None
    figures = part.chosen.figures
    cells: list[object] = [part.name, part.chosen.name]
    for key in ("life", "test-life", "pull", "push"):
        figure = figures[key]
        cells.append({"text": _short(figure), "verdict": _look(figure)})
    return cells


def _short(figure: Figure) -> str:
    if figure.value is None or figure.low is None or figure.high is None:
        return "not known"
    if not figure.measured:
        # Nothing measured gives its level: only the end that would have to hold is worth a number.
        return f"computed at least {_number(figure.low)}"
    if figure.limit is not None and figure.unit in ("years", "cycles") and figure.low >= MOST_TIMES * figure.limit:
        return f"more than {_number(MOST_TIMES * figure.limit)}"
    return rounded(Band(figure.low, figure.value, figure.high))


def _number(value: float) -> str:
    """Two figures of a number, written out: fewer would round a life across the years wanted."""
    return f"{float(significant(value, 2)):,.6g}".replace(",", "\u2009")


def _look(figure: Figure) -> dict[str, str]:
    look = VERDICT_LOOKS[figure.verdict]
    return {"word": look.word, "sign": look.sign}


def service_says(option: OptionResult) -> list[str]:
    """A part's life in service in a few sentences, with the figure that drives it first."""
    figures = [option.figures[key] for key in SERVICE if key in option.figures]
    if not figures:
        return []
    first = min(figures, key=_severity)
    lines = [f"{_capital(first.title)}: {first.text()}, {first.verdict}. {_capital(first.why)}."]
    rest = [figure for figure in figures if figure is not first]
    for verdict, lead in (("fails", "Fails too"), ("marginal", "Marginal too"), ("not known", "Not known")):
        found = [figure for figure in rest if figure.verdict == verdict]
        if found:
            shown = "; ".join(f.title if f.value is None else f"{f.title} {f.text()}" for f in found)
            lines.append(f"{lead}: {shown}.")
    holds = [figure for figure in rest if figure.verdict == "holds" and figure.value is not None]
    if holds:
        lines.append("Holds: " + "; ".join(f"{figure.title} {figure.text()}" for figure in holds) + ".")
    return lines


def _severity(figure: Figure) -> tuple[int, float]:
    """Worst verdict first, then the smallest share of the limit to spare."""
    order = ("fails", "marginal", "holds", "not known").index(figure.verdict)
    if figure.value is None or not figure.limit or figure.margin is None:
        return order, float("inf")
    return order, figure.margin / abs(figure.limit)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _grade_says(result: StudyResult) -> str:
    name = result.content.use.grade
    if not name:
        return "No grade is stated in the study ([use] grade)."
    stated = grade(name)
    ambient = result.content.use.ambient
    warning = "" if ambient <= stated.high_c else f" The study's ambient of {ambient:g} °C is hotter than the grade."
    return (
        f"Grade {stated.name}: {stated.low_c:g} to {stated.high_c:g} °C ambient. Whether a part is offered in the "
        f"grade is its maker's to say; the package alone does not carry it.{warning}"
    )


def qualification_rows(result: StudyResult) -> list[list[str]]:
    """Test, what it bears on, what was computed over the chosen parts, what only a test shows, how far it was read."""
    chosen = [(part, part.chosen) for part in result.parts if part.chosen]
    rows = []
    for test in TESTS:
        bearing = [(part, option) for part, option in chosen if option.geometry.outline.family in test.families]
        if not bearing:
            continue
        computed = []
        for key in test.figures:
            found = [(part, option.figures[key]) for part, option in bearing if key in option.figures]
            if not found:
                continue
            verdict = worst(figure.verdict for _, figure in found)
            who = [part.name for part, figure in found if figure.verdict == verdict]
            where = "" if len(who) == len(found) else f" ({', '.join(who[:3])}{' …' if len(who) > 3 else ''})"
            computed.append(f"{found[0][1].title}: {verdict}{where}")
        rows.append(
            [
                f"{test.name} ({test.standard})",
                test.bears_on,
                "; ".join(computed) or "nothing",
                test.only_test,
                source(test.source).mark,
            ]
        )
    return rows
