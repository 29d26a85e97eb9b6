"""The study's limits on the whole board: which options one of them takes out, and which sums it holds down."""

from __future__ import annotations

from collections.abc import Mapping
from statistics import NormalDist
from typing import Literal

from landwise.board.judged import Judgement, Place
from landwise.board.model import AREA, HALF_WIDTH_90, HIDDEN, RISK
from landwise.choosing.optimum.model import Array, Row
from landwise.errors import InputError
from landwise.evidence.figures import Figure
from landwise.judging.bench import Bench
from landwise.judging.limits import Limit, LimitKey
from landwise.judging.results import OptionResult, PartResult
from landwise.outlines import find
from landwise.quantities import DIMENSIONS, parse
from landwise.study.file import OptionTable, StudyFile, Want

LimitState = Literal["held", "broken", "not shown"]


def broken(part: PartResult, judged: Judgement, bench: Bench) -> list[Limit]:
    """The limits that one option breaks under one shared decision."""
    table, want, option, um = part.part, bench.content.want, judged.option, judged.foil_um
    if table.locked and part.present is not None and option.name == part.present.name:
        return [] if um is not None else [Limit(LimitKey.FOIL_PRINTS)]  # judged, but not up for choice
    found = [Limit(r.limit) for r in option.rejections if r.limit != LimitKey.FOIL]
    if um is None:
        found.append(Limit(LimitKey.FOIL_PRINTS))
    thinnest = option.geometry.window.thinnest_works_um
    reaches = um is None or thinnest is None or um >= thinnest or not option.geometry.printed.apertures
    if want.coplanarity and not reaches:
        found.append(Limit(LimitKey.FOIL_REACHES))
    if table.locked and part.present is not None:
        found.append(Limit(LimitKey.LOCKED, part.name))
    if table.alternates and option.name not in {find(one, bench.own).name for one in table.alternates}:
        found.append(Limit(LimitKey.ALTERNATES, part.name))
    if option.figures["opening"].verdict == "fails":
        found.append(Limit(LimitKey.POWDER_PASSES))
    if option.figures["layers"].verdict == "fails":
        found.append(Limit(LimitKey.LAYERS))
    found += _offer_limits(offers_of(part, bench).get(option.name), bench.content)
    # A figure that an option does not have at all, such as the toe fillet of a ball, does not bind it.
    found += [
        Limit(key)
        for key, limit in want.limits.items()
        if key in option.figures and state_of(option.figures[key], limit, want.sure) == "broken"
    ]
    return found


def not_shown(option: OptionResult, content: StudyFile) -> tuple[str, ...]:
    """Keys of the study's limits that an option is neither shown to hold nor to break."""
    return tuple(
        key
        for key, limit in content.want.limits.items()
        if key in option.figures and state_of(option.figures[key], limit, content.want.sure) == "not shown"
    )


def state_of(figure: Figure, limit: float | str, sure: float | None = None) -> LimitState:
    """Whether a figure holds a limit, breaks it, or is not shown to do either.

    Parameters
    ----------
    figure : Figure
    limit : float or str
    sure : float, optional
        Confidence at which it must be shown to be held; below it the limit counts as broken.

    Notes
    -----
    Held where the worse end of the 90 % interval keeps the limit, broken where the better end does not. Where a
    confidence is asked for, the interval is taken as that of a normal number about its middle.
    """
    if figure.value is None:
        return "held" if figure.verdict == "holds" else "not shown" if sure is None else "broken"
    bound = _number(limit, figure.unit, f"want, limits, {figure.key}")
    low = figure.value if figure.low is None else figure.low
    high = figure.value if figure.high is None else figure.high
    better, worse = (low, high) if figure.better == "less" else (-high, -low)
    bound = bound if figure.better == "less" else -bound
    tiny = 1e-12 * max(1.0, abs(bound))
    if sure is not None:
        return "held" if _confidence(better, worse, bound + tiny) >= sure else "broken"
    return "held" if worse <= bound + tiny else "broken" if better > bound + tiny else "not shown"


def _confidence(better: float, worse: float, bound: float) -> float:
    """Probability that a number with this 90 % interval lies below a bound."""
    middle, sd = (better + worse) / 2, (worse - better) / (2 * HALF_WIDTH_90)
    if sd <= 0:
        return float(middle <= bound)
    return NormalDist(middle, sd).cdf(bound)


def _offer_limits(offer: OptionTable | None, content: StudyFile) -> list[Limit]:
    """The limits that an offer itself breaks, whatever its package."""
    if offer is None:
        return []
    want = content.want
    found: list[Limit] = []
    if want.least_sources is not None and offer.sources is not None and offer.sources < want.least_sources:
        found.append(Limit(LimitKey.LEAST_SOURCES))
    if want.most_lead_weeks is not None and offer.lead_weeks is not None and offer.lead_weeks > want.most_lead_weeks:
        found.append(Limit(LimitKey.LEAD_TIME))
    spread = content.costs.price_spread if offer.price_spread is None else offer.price_spread
    if want.most_price_spread is not None and spread > want.most_price_spread:
        found.append(Limit(LimitKey.PRICE_SPREAD))
    return found


def offers_of(part: PartResult, bench: Bench) -> dict[str, OptionTable]:
    """The study's offers of a part, by the outline's own name."""
    options = part.part.options
    return {find(offer.outline, bench.own).name: offer for offer in options} if isinstance(options, list) else {}


def sums_wanted(want: Want) -> tuple[str, ...]:
    """Keys of all sums over the board that the choice reads."""
    return tuple(dict.fromkeys((AREA, RISK, HIDDEN, *want.board_limits)))


def rows_of(
    content: StudyFile, sums: Mapping[str, Array], judged: Mapping[Place, OptionResult], *, zones: Array | None
) -> dict[Limit, Row]:
    """The limits on sums over the board, as rows.

    `zones` is what each option adds to the foil's step zones, where the foil may step.
    """
    want, board = content.want, content.board
    rows: dict[Limit, Row] = {}

    def held(limit: Limit, use: Array, most: float, unit: str = "") -> None:
        rows[limit] = Row(limit.name, use, most, unit=unit)

    for key, limit in want.board_limits.items():
        place = f"want, board_limits, {key}"
        if key == AREA:
            value = _number(limit, "mm2", place)
            held(Limit(LimitKey.BOARD_AREA), sums[AREA] * (1 + want.packing), value * board.sides, "mm2")
        elif key == HIDDEN:
            held(Limit(LimitKey.BOARD_HIDDEN), sums[HIDDEN], _number(limit, "", key))
        elif key == RISK:
            held(Limit(LimitKey.BOARD_RISK), sums[RISK], _number(limit, "", key))
        else:
            unit = _known_figure(key, judged).unit
            held(Limit(LimitKey.BOARD_SUM, key), sums[key], _number(limit, unit, place), unit)
    if zones is not None:
        held(Limit(LimitKey.STEP_ZONES), zones, float(content.line.most_step_zones))
    return rows


def where_limits_are_figures(want: Want, judged: Mapping[Place, OptionResult]) -> None:
    """Nothing, where every limit of the study is on a figure that can be limited.

    Raises
    ------
    InputError
        Naming the limit.
    """
    for key, limit in want.limits.items():
        figure = _known_figure(key, judged)
        _number(limit, figure.unit, f"want, limits, {key}")
        if figure.value is not None and figure.better == "neither":
            raise InputError(
                "this figure has no better direction, so it can't be limited", place="want, limits", found=key
            )


def _known_figure(key: str, judged: Mapping[Place, OptionResult]) -> Figure:
    """The figure of a limit, from an option that knows its value where there is one."""
    found = [option.figures[key] for option in judged.values() if key in option.figures]
    if not found:
        known = dict.fromkeys(key for option in judged.values() for key in option.figures)
        raise InputError(
            "no such figure", place="want, limits", found=key, expected=" | ".join((*known, AREA, HIDDEN, RISK))
        )
    return next((figure for figure in found if figure.value is not None), found[0])


def _number(limit: float | str, unit: str, place: str) -> float:
    """A limit as a number of the figure's unit."""
    if not isinstance(limit, str):
        return float(limit)
    for dimension in DIMENSIONS.values():
        if dimension.unit == unit:
            return parse(limit, dimension.name, place=place)
    try:
        return float(limit.removesuffix(unit))
    except ValueError:
        raise InputError(
            "not a number", place=place, found=repr(limit), expected=f"a number of {unit or 'things'}"
        ) from None
