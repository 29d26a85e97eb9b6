"""From a judged study to the numbers of the whole-board choice: shared decisions, costs, sums and limits.

Each option is worked once under each print it could get (foil, technology, powder, board class) and judged
once under each inspection; everything else is addition.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from landwise.assembly.lines import View
from landwise.board.model import (
    AREA,
    FOIL_PRINTS,
    FOIL_REACHES,
    HALF_WIDTH_90,
    HIDDEN,
    POWDER_PASSES,
    RISK,
    SHARED_ITEMS,
    STEP_ZONES,
    BoardModel,
    Decision,
    _line_with,
    decisions_of,
)
from landwise.board.workers import WORTH, judged_apart
from landwise.choosing.optimum.front import Axis
from landwise.choosing.optimum.model import Array, Ban, Mask, Problem, Row
from landwise.costs.board import board_item
from landwise.errors import InputError, LandwiseError
from landwise.evidence.figures import Figure
from landwise.judging.bench import Bench, Geometry
from landwise.judging.option import judge_option
from landwise.judging.results import OptionResult, PartResult, StudyResult
from landwise.memory import Memory
from landwise.outlines import Outline, find
from landwise.printing.foils import foil_window, step_keep_out
from landwise.printing.model import POWDERS, Powder, Technology
from landwise.printing.transfer import PASS_LEVEL
from landwise.quantities import DIMENSIONS, parse
from landwise.study.file import BoardClass, OptionTable

NOTHING_TO_CHOOSE = "no part that is fitted has options: there is nothing to choose together, each is ranked by itself"


def board_model(
    result: StudyResult,
    *,
    progress: Callable[[int, int, str], None] | None = None,
    stop: Callable[[], bool] | None = None,
    memory: Memory | None = None,
    jobs: int = 1,
) -> BoardModel | None:
    """Work every option under every shared decision.

    Parameters
    ----------
    result : StudyResult
        The parts judged one by one under today's line.
    progress : callable, optional
        Called with (parts done, parts in all, part's name).
    stop : callable, optional
        True ends the work; there is then no model.
    jobs : int
        Processes to share the work of a large board between.
    memory : Memory, optional
        Of a caller that asks again and again.

    Raises
    ------
    LandwiseError
        For limits on figures that don't exist, or values that can't be read.
    """
    try:
        return Builder(result, memory).model(progress, stop or (lambda: False), jobs)
    except LandwiseError as error:
        raise error.within(file=result.study.file) from None


# Outline, first reference, foil, technology, powder, inspection and board of a judgement.
Key = tuple[str, str, float, Technology, Powder, tuple[View, ...], BoardClass]


@dataclass(frozen=True)
class Judged:
    """Judgements of one part by what they depend on, and which outlines print on which foil."""

    options: Mapping[Key, OptionResult]
    prints: Mapping[tuple[object, ...], bool]


def choosable(result: StudyResult) -> tuple[PartResult, ...]:
    """The parts that are chosen together: fitted, and with options."""
    return tuple(part for part in result.parts if part.part.fitted and part.options)


class Builder:
    """Holds the benches of all prints while the arrays are filled."""

    def __init__(self, result: StudyResult, memory: Memory | None = None) -> None:
        self.result = result
        self.bench = Bench.of(result.study, memory)
        self.want = self.bench.content.want
        self.parts = choosable(result)
        if not self.parts:
            raise InputError(NOTHING_TO_CHOOSE)
        self.decisions = decisions_of(self.bench)
        self.names = tuple(_names(part) for part in self.parts)
        self.benches: dict[tuple[object, ...], Bench] = {}
        self.worked: dict[tuple[object, ...], dict[str, Geometry]] = {}
        self.options: dict[Key, OptionResult] = {}
        self.prints: dict[tuple[object, ...], bool] = {}
        shape = (len(self.decisions), len(self.parts), max(len(names) for names in self.names))
        self.shape = shape
        self.exists: Mask = np.zeros(shape[1:], dtype=bool)
        self.cost: Array = np.zeros(shape)
        self.area: Array = np.zeros(shape)
        self.risk: Array = np.zeros(shape)
        self.hidden: Array = np.zeros(shape)
        self.zones: Array = np.zeros(shape)
        self.bans: dict[str, Mask] = {}
        self.sums: dict[str, Array] = {name: np.zeros(shape) for name in self.want.board_limits}
        self.judged: dict[tuple[int, int, int], OptionResult] = {}

    def model(
        self, progress: Callable[[int, int, str], None] | None, stop: Callable[[], bool], jobs: int
    ) -> BoardModel | None:
        """Fill and pack."""
        tell = progress or (lambda *_: None)
        whole = len(self.parts)
        if jobs > 1 and whole > 1 and self.cost.size > WORTH:
            for done, (_, judged) in enumerate(judged_apart(self.result, whole, min(jobs, whole), stop), start=1):
                tell(done, whole, f"{done} of {whole} parts")
                if judged is not None:
                    self._take(judged)
        for p, part in enumerate(self.parts):
            if stop():
                return None
            tell(p, whole, part.part.refs[0])
            for k, name in enumerate(self.names[p]):
                self.exists[p, k] = True
                for d in range(len(self.decisions)):
                    self._fill(d, p, k, part, name)
        tell(whole, whole, "")
        self._check_limits()
        stuck = self._set_stuck_aside()
        numbers = {name: n for n, name in enumerate(dict.fromkeys(name for names in self.names for name in names))}
        outline = np.full(self.shape[1:], -1, dtype=np.int64)
        for p, names in enumerate(self.names):
            outline[p, : len(names)] = [numbers[name] for name in names]
        groups: dict[str, list[int]] = {}
        for p, part in enumerate(self.parts):
            if part.part.group:
                groups.setdefault(part.part.group, []).append(p)
        nothing = np.zeros(len(self.decisions))
        problem = Problem(
            cost=self.cost,
            shared_cost=np.array([self._shared(d) for d in self.decisions]),
            exists=self.exists,
            outline=outline,
            rows=tuple(self._rows()),
            bans=tuple(Ban(name, mask) for name, mask in self.bans.items()),
            groups=tuple(tuple(members) for members in groups.values() if len(members) > 1),
            most_outlines=self.want.most_outlines,
        )
        says = (
            "expected defects per board"
            if self._counts_defects()
            else "lands at risk: for each land of an option, the share of the worst land's transfer band below 80 %"
        )
        return BoardModel(
            problem,
            self.decisions,
            self.parts,
            self.names,
            self.judged,
            self.zones > 0,
            Axis("area", self.area, nothing, "mm2"),
            Axis(RISK, self.risk, nothing),
            says,
            stuck,
            self.bench,
        )

    def judgements(self, p: int) -> Judged:
        """Every judgement that the model needs of one part."""
        part = self.parts[p]
        for name in self.names[p]:
            outline = self._option_outline(part, name)
            for decision in self.decisions:
                um, _ = self._printed_at(decision, outline)
                self._judge(decision, um or decision.foil_um, part, outline)
        ref = part.part.refs[0]
        return Judged({key: option for key, option in self.options.items() if key[1] == ref}, dict(self.prints))

    def _take(self, judged: Judged) -> None:
        """Judgements made elsewhere, with one geometry kept for all parts that share it."""
        self.prints |= judged.prints
        for key, option in judged.options.items():
            name, _, *printed, _, board = key
            kept = self.worked.setdefault((*printed, board.track, board.space), {})
            shared = kept.setdefault(name, option.geometry)
            self.options[key] = replace(option, geometry=shared)

    def _fill(self, d: int, p: int, k: int, part: PartResult, name: str) -> None:
        decision, count = self.decisions[d], part.count
        outline = self._option_outline(part, name)
        um, step = self._printed_at(decision, outline)
        option = self._judge(decision, um or decision.foil_um, part, outline)
        self.judged[d, p, k] = option
        price = 0.0 if option.cost.price_known else (part.price_taken or 0.0)
        own = sum(item.value for item in option.cost.items if item.title not in SHARED_ITEMS)
        extra = self._keep_out(option, step) if step else 0.0
        board = board_item(extra, self._rates(decision), decision.board.layers).value if extra else 0.0
        self.cost[d, p, k] = count * (own + price + board)
        self.area[d, p, k] = count * (option.area_mm2 + extra)
        self.risk[d, p, k] = count * _risk(option)
        self.hidden[d, p, k] = count * option.geometry.sights.not_at_all
        self.zones[d, p, k] = count * (step > 0)
        for key, total in self.sums.items():
            if key not in (AREA, HIDDEN, RISK):
                figure = option.figures.get(key)
                total[d, p, k] = count * (figure.value or 0.0) if figure else 0.0
        for ban in self._broken(part, option, name, um):
            self.bans.setdefault(ban, np.zeros(self.shape, dtype=bool))[d, p, k] = True

    def _set_stuck_aside(self) -> tuple[PartResult, ...]:
        banned = np.zeros(self.shape, dtype=bool)
        for mask in self.bans.values():
            banned |= mask
        fits: Mask = np.any(self.exists & ~banned, axis=(0, 2))
        if fits.all() or not fits.any():
            return ()
        keep = np.flatnonzero(fits)
        stuck = tuple(part for part, fit in zip(self.parts, fits, strict=True) if not fit)
        self.parts = tuple(self.parts[p] for p in keep)
        self.names = tuple(self.names[p] for p in keep)
        self.exists = self.exists[keep]
        for name in ("cost", "area", "risk", "hidden", "zones"):
            setattr(self, name, getattr(self, name)[:, keep])
        self.bans = {name: mask[:, keep] for name, mask in self.bans.items() if mask[:, keep].any()}
        self.sums = {name: total[:, keep] for name, total in self.sums.items()}
        place = {int(p): n for n, p in enumerate(keep)}
        self.judged = {(d, place[p], k): option for (d, p, k), option in self.judged.items() if p in place}
        self.shape = self.cost.shape
        return stuck

    def _option_outline(self, part: PartResult, name: str) -> Outline:
        return next(option.geometry.outline for option in part.options if option.name == name)

    def _printed_at(self, decision: Decision, outline: Outline) -> tuple[float | None, float]:
        """The foil over the part and the depth of its step; None where nothing on hand prints it."""
        if self._prints(decision.foil_um, decision, outline):
            return decision.foil_um, 0.0
        if decision.stepped:
            for um in sorted((u for u in self.bench.line.foils_um if u < decision.foil_um), reverse=True):
                if self._prints(um, decision, outline):
                    return um, decision.foil_um - um
        return None, 0.0

    def _prints(self, um: float, decision: Decision, outline: Outline) -> bool:
        key = (outline.name, um, decision.technology, decision.powder)
        if key not in self.prints:
            pattern, rules = self.bench.geometry(outline).pattern, self.bench.aperture_rules
            window = self.bench.recalled(
                ("window", *key),
                pattern,
                lambda: foil_window(pattern, [um], decision.technology, decision.powder, rules=rules, outline=outline),
            )
            self.prints[key] = window.verdicts[0][1] != "fails"
        return self.prints[key]

    def _bench(self, decision: Decision, um: float) -> Bench:
        key = (um, decision.technology, decision.powder, decision.inspection, decision.board)
        if key not in self.benches:
            kind, content = decision.board, self.bench.content
            board = content.board.model_copy(update={"layers": kind.layers, "track": kind.track, "space": kind.space})
            printed = (*key[:3], kind.track, kind.space)
            line = replace(_line_with(self.bench.line, decision), foil_um=um, steps_allowed=False)
            self.benches[key] = Bench(
                content.model_copy(update={"board": board}),
                line,
                self._rates(decision),
                self.bench.weights,
                self.bench.own,
                aperture_rules=self.bench.aperture_rules,
                _worked=self.worked.setdefault(printed, {}),
                _laid=self.bench._laid,
                memory=self.bench.memory,
                _told=self.bench._told,
            ).remembering()
        return self.benches[key]

    def _rates(self, decision: Decision):  # type: ignore[no-untyped-def]
        rates = dict(self.bench.rates)
        area, factor = rates["board_area"], decision.board.rate
        rates["board_area"] = replace(area, value=area.value * factor, low=area.low * factor, high=area.high * factor)
        return rates

    def _judge(self, decision: Decision, um: float, part: PartResult, outline: Outline) -> OptionResult:
        # Where every joint is seen from above, no inspection changes anything.
        sights = self.bench.geometry(outline).sights
        seen = decision.inspection if sights.not_at_all or sights.from_the_side else self.bench.line.inspection
        key = (outline.name, part.part.refs[0], um, decision.technology, decision.powder, seen, decision.board)
        if key not in self.options:
            price = next(option.price for option in part.options if option.name == outline.name)
            bench = self._bench(replace(decision, inspection=seen), um)
            self.options[key] = judge_option(outline, price, part.part, bench)
        return self.options[key]

    def _keep_out(self, option: OptionResult, step_um: float) -> float:
        """Area that a step's clear margin adds around a courtyard. [mm²]"""
        width, height = option.geometry.pattern.courtyard_mm
        margin = 2 * step_keep_out(step_um)
        return (width + margin) * (height + margin) - width * height

    def _broken(self, part: PartResult, option: OptionResult, name: str, um: float | None) -> list[str]:
        """Names of the limits that one option breaks under one decision."""
        table, want = part.part, self.want
        if table.locked and part.present is not None and name == part.present.name:
            return [] if um is not None else [FOIL_PRINTS]  # judged, but not up for choice
        found = [r.limit for r in option.rejections if r.limit != "foil"]
        if um is None:
            found.append(FOIL_PRINTS)
        thinnest = option.geometry.window.thinnest_works_um
        if (
            want.coplanarity
            and um is not None
            and thinnest is not None
            and um < thinnest
            and option.geometry.printed.apertures
        ):
            found.append(FOIL_REACHES)
        if table.locked and part.present is not None and name != part.present.name:
            found.append(f"{part.name} is locked")
        if table.alternates and name not in {find(one, self.bench.own).name for one in table.alternates}:
            found.append(f"alternates of {part.name}")
        if option.figures["opening"].verdict == "fails":
            found.append(POWDER_PASSES)
        if option.figures["layers"].verdict == "fails":
            found.append("layers of the board class")
        offer = offers_of(part, self.bench).get(name)
        if offer is not None:
            if want.least_sources is not None and offer.sources is not None and offer.sources < want.least_sources:
                found.append("least number of makers")
            if (
                want.most_lead_weeks is not None
                and offer.lead_weeks is not None
                and offer.lead_weeks > want.most_lead_weeks
            ):
                found.append("lead time")
            spread = self.bench.content.costs.price_spread if offer.price_spread is None else offer.price_spread
            if want.most_price_spread is not None and spread > want.most_price_spread:
                found.append("price spread")
        # A figure that an option does not have at all, such as the toe fillet of a ball, does not bind it.
        found += [
            key
            for key, limit in want.limits.items()
            if key in option.figures and not _keeps(option.figures[key], limit)
        ]
        return found

    def _rows(self) -> list[Row]:
        want, board = self.want, self.bench.content.board
        rows = []
        for key, limit in want.board_limits.items():
            if key == AREA:
                value = _number(limit, "mm2", f"want, board_limits, {key}")
                rows.append(Row("board area", self.area * (1 + want.packing), value * board.sides, unit="mm2"))
            elif key == HIDDEN:
                rows.append(Row("hidden joints on the board", self.hidden, _number(limit, "", key)))
            elif key == RISK:
                rows.append(Row("risk of the board", self.risk, _number(limit, "", key)))
            else:
                unit = self._known_figure(key).unit
                rows.append(
                    Row(
                        f"{key} of the board",
                        self.sums[key],
                        _number(limit, unit, f"want, board_limits, {key}"),
                        unit=unit,
                    )
                )
        if any(decision.stepped for decision in self.decisions):
            rows.append(Row(STEP_ZONES, self.zones, float(self.bench.content.line.most_step_zones)))
        return rows

    def _known_figure(self, key: str) -> Figure:
        """The figure of a limit, from an option that knows its value where there is one."""
        found = [option.figures[key] for option in self.judged.values() if key in option.figures]
        if not found:
            known = dict.fromkeys(key for option in self.judged.values() for key in option.figures)
            raise InputError(
                "no such figure", place="want, limits", found=key, expected=" | ".join((*known, AREA, HIDDEN, RISK))
            )
        return next((figure for figure in found if figure.value is not None), found[0])

    def _check_limits(self) -> None:
        for key, limit in self.want.limits.items():
            figure = self._known_figure(key)
            _number(limit, figure.unit, f"want, limits, {key}")
            if figure.value is not None and figure.better == "neither":
                raise InputError(
                    "this figure has no better direction, so it can't be limited", place="want, limits", found=key
                )

    def _shared(self, decision: Decision) -> float:
        rates, run = self.bench.rates, self.bench.content.costs.run
        cost = 0.0
        if decision.stepped:
            cost += rates["foil"].value * rates["step_zone"].value / run
        if decision.technology != self.bench.line.technology:
            cost += rates["foil"].value * rates["better_foil"].value / run
        if "x-ray" in decision.inspection and not self.bench.content.board.xray_anyway:
            cost += rates["xray"].value
        finer = POWDERS.index(decision.powder) - POWDERS.index(self.bench.line.powder)
        return cost + max(0, finer) * rates["finer_powder"].value

    def _counts_defects(self) -> bool:
        return any("defects" in option.figures for option in self.judged.values())


def _names(part: PartResult) -> tuple[str, ...]:
    return tuple(option.name for option in part.options)


def offers_of(part: PartResult, bench: Bench) -> dict[str, OptionTable]:
    """The study's offers of a part, by the outline's own name."""
    options = part.part.options
    return {find(offer.outline, bench.own).name: offer for offer in options} if isinstance(options, list) else {}


def _risk(option: OptionResult) -> float:
    """Expected defects where they are worked; otherwise lands whose paste may fall short."""
    if "defects" in option.figures:
        return option.figures["defects"].value or 0.0
    deposits = option.geometry.printed.deposits
    if not deposits:
        return 0.0
    from scipy.special import ndtr

    weakest = min(deposits, key=lambda deposit: deposit.transfer.mean).transfer
    sd = max((weakest.high - weakest.low) / (2 * HALF_WIDTH_90), 1e-6)
    return float(ndtr((PASS_LEVEL - weakest.mean) / sd)) * len(deposits)


def _keeps(figure: Figure, limit: float | str) -> bool:
    """Whether a figure is known to keep a limit, in the direction in which it improves."""
    if figure.value is None:
        return figure.verdict == "holds"  # such as a drilled part's print
    bound = _number(limit, figure.unit, f"want, limits, {figure.key}")
    return figure.value <= bound + 1e-12 if figure.better == "less" else figure.value >= bound - 1e-12


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
