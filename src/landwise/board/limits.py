"""The study's limits on the whole board: which options one of them takes out, and which sums it holds down."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from landwise.board.judged import Judgement, Place
from landwise.board.model import AREA, HIDDEN, RISK
from landwise.choosing.optimum.model import Array, Row
from landwise.errors import InputError
from landwise.evidence.figures import Figure
from landwise.judging.bench import Bench
from landwise.judging.limits import Limit, LimitKey
from landwise.judging.results import OptionResult, PartResult
from landwise.judging.wanted import limit_states, number_of
from landwise.outlines import find
from landwise.study.file import OptionTable, StudyFile, Want


def broken(part: PartResult, judged: Judgement, bench: Bench) -> list[Limit]:
    """The limits that one option breaks under one shared decision."""
    table, option, um = part.part, judged.option, judged.foil_um
    if table.locked and part.present is not None and option.name == part.present.name:
        return [] if um is not None else [Limit(LimitKey.FOIL_PRINTS)]  # judged, but not up for choice
    # Of the foil itself only what prints counts here: it is judged under the foil that it would get.
    passed = {LimitKey.FOIL} if um is not None else {LimitKey.FOIL, LimitKey.FOIL_REACHES}
    found = [Limit(r.limit) for r in option.rejections if r.limit not in passed]
    # A study may limit the figure of that name as well.
    states = limit_states(option.figures, bench.content.want)
    found += [Limit(key) for key in sorted(passed) if states.get(key) == "broken"]
    if um is None:
        found.append(Limit(LimitKey.FOIL_PRINTS))
    if table.locked and part.present is not None:
        found.append(Limit(LimitKey.LOCKED, part.name))
    if table.alternates and option.name not in {find(one, bench.own).name for one in table.alternates}:
        found.append(Limit(LimitKey.ALTERNATES, part.name))
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
            value = number_of(limit, "mm2", place)
            held(Limit(LimitKey.BOARD_AREA), sums[AREA] * (1 + want.packing), value * board.sides, "mm2")
        elif key == HIDDEN:
            held(Limit(LimitKey.BOARD_HIDDEN), sums[HIDDEN], number_of(limit, "", key))
        elif key == RISK:
            held(Limit(LimitKey.BOARD_RISK), sums[RISK], number_of(limit, "", key))
        else:
            unit = _known_figure(key, judged, "board_limits", (HIDDEN, RISK)).unit
            held(Limit(LimitKey.BOARD_SUM, key), sums[key], number_of(limit, unit, place), unit)
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
        figure = _known_figure(key, judged, "limits")
        number_of(limit, figure.unit, f"want, limits, {key}")
        if figure.value is not None and figure.better == "neither":
            raise InputError(
                "this figure has no better direction, so it can't be limited", place="want, limits", found=key
            )


def _known_figure(key: str, judged: Mapping[Place, OptionResult], table: str, sums: Sequence[str] = ()) -> Figure:
    """The figure of a limit, from an option that knows its value where there is one; `sums` may be limited beside."""
    found = [option.figures[key] for option in judged.values() if key in option.figures]
    if not found:
        known = dict.fromkeys((*(key for option in judged.values() for key in option.figures), *sums))
        raise InputError("no such figure", place=f"want, {table}", found=key, expected=" | ".join(known))
    return next((figure for figure in found if figure.value is not None), found[0])
