"""Figures of the chosen board, each with the steps that give it: its cost and every line of it, area, defects, life.

A total goes back to the figures and steps of the chosen options, and by them to what the study states, to defaults,
drawings and sources; the functions here are those that work it again.

Longer than other modules: all figures of one board share its placed parts and what was decided for them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from landwise.assembly.rare import Estimate
from landwise.board.chosen import BoardChoice
from landwise.board.model import Decision
from landwise.board.money import finer_powders, is_changed, reel_in, stocked_of
from landwise.board.paid import board_loads, keep_out_area, once_loads, panel_loads, placed_loads
from landwise.board.sizes import panel_price
from landwise.board.totalvalues import (
    all_loads,
    defects_of,
    dpmo_of,
    drilled_among,
    first_pass_of,
    hidden_of,
    images_on,
    least_of,
    line_of_board,
    most_of,
    of_all_places,
    panel_area,
    placed_area,
    printed_among,
    rest_of_board,
    shared_plan,
    step_depth,
    sum_of_parts,
    yield_of_board,
)
from landwise.costs.foils import print_loads
from landwise.costs.loads import TITLES, Line
from landwise.costs.panels import BoardSize, panels_a_board
from landwise.evidence.figures import Better, Figure, figure, worst
from landwise.evidence.trails import Given, Step, behind, chosen, earlier, stated, worked
from landwise.judging.leaves import of_outline, of_rate, of_rule, of_study
from landwise.judging.money import LOADS, LOST, PRICE, paid_area, sum_of_lines
from landwise.judging.results import OptionResult, PartResult
from landwise.study.file import Board

WEAKEST = ("life", "vibration", "shock")  # of these the board is as good as its weakest part


@dataclass(frozen=True)
class _Placed:
    """One part of the choice, with the option that was chosen for it."""

    part: PartResult
    option: OptionResult

    @property
    def ref(self) -> str:
        """Its first reference."""
        return self.part.part.refs[0]

    @property
    def count(self) -> Given:
        """Its places, as the study lists them."""
        return stated(self.part.count, f"part {self.ref}, refs")

    def loads(self) -> Step:
        """The step that says what one place of it pays for."""
        return next(step for step in behind(self.option.figures["cost"].trail) if step.key == LOADS)

    def line(self, name: str) -> Given:
        """One line of its cost, as the sum takes it."""
        return self.gives("cost").given[name]

    def gives(self, figure: str) -> Step:
        """The step that gives a figure of the option."""
        step = self.option.figures[figure].gives
        assert step is not None  # area and cost always have a value
        return step


def board_figures(choice: BoardChoice, parts: Sequence[PartResult]) -> tuple[Figure, ...]:
    """Every total of a chosen board; empty where there is no choice.

    Parameters
    ----------
    choice : BoardChoice
    parts : sequence of PartResult
        Set to their options of the choice, as `settled` gives them.
    """
    if not choice.best.found:
        return ()
    own = {part.part.refs[0] for part in choice.model.parts}
    every = own | {part.part.refs[0] for part in choice.model.stuck}
    placed = [_Placed(part, part.chosen) for part in parts if part.part.refs[0] in own and part.chosen is not None]
    today = choice.model.today
    before = today if today is not None else tuple(part for part in parts if part.part.refs[0] in every)
    made = _Board(choice, tuple(placed), before)
    return (*made.costs(), made.area(), *made.yields(), *made.weakest())


@dataclass(frozen=True)
class _Board:
    """The chosen board, for the steps of its totals."""

    choice: BoardChoice
    placed: tuple[_Placed, ...]
    parts: tuple[PartResult, ...]  # as they are grouped today, also those that nothing fits

    def decided(self, value: object, what: str, unit: str = "") -> Given:
        """What the choice decided for the whole board."""
        return chosen(value, what, unit)

    def keep_out(self, one: _Placed) -> Step:
        """Area that a step in the foil adds around one place of a part."""
        decision = self.choice.model.decisions[self.choice.best.decision]
        depth = worked(
            "depth of the step over it",
            step_depth,
            {
                "board_um": self.decided(decision.foil_um, "foil", "um"),
                "part_um": one.option.geometry.leaves["foil_um"],
            },
            unit="um",
        )
        pattern = earlier(one.option.geometry.stations["lands"])
        return worked(
            "clear margin of the step around its courtyard",
            keep_out_area,
            {"pattern": pattern, "step_um": earlier(depth)},
            unit="mm2",
            sources=("landwise-rule",),
        )

    def costs(self) -> tuple[Figure, ...]:
        """The cost of the board, and each line of it."""
        bench = self.choice.model.bench
        loads = self.loads()
        lines = {Line.PART: self._places(PRICE), Line.ATTRITION: self._places(LOST)}
        for line in dict.fromkeys(load.line for load in loads.result):
            names = dict.fromkeys(name for load in loads.result if load.line == line for name in load.rates)
            lines[line] = worked(
                TITLES[line],
                line_of_board,
                {
                    "loads": earlier(loads),
                    "line": of_rule(line.value, "line of the cost"),
                    "run": of_study(bench.content, "costs.run"),
                    **{name: of_rate(bench.rates[name]) for name in names},
                },
                unit="money",
                sources=tuple(dict.fromkeys(bench.rates[name].source for name in names)),
            )
        whole = worked(
            "sum of these lines; the ends of its range are bounds, since they do not move together",
            sum_of_lines,
            {line.value: earlier(step) for line, step in lines.items()},
            unit="money",
        )
        known = worst(one.option.figures["cost"].verdict for one in self.placed)
        total = figure(
            whole,
            key="cost",
            title="cost on one good board",
            better="less",
            verdict=known,
            why="rates marked as assumptions where not stated; guessed prices with their band",
            trail=(*lines.values(), whole),
        )
        return (total, *(_line_figure(line, step, total) for line, step in lines.items() if step.value))

    def _places(self, key: str) -> Step:
        """What all places of all parts cost to buy, or lose while they are placed."""
        each = {
            one.ref: earlier(
                worked(
                    f"{one.part.name} in {one.option.name}",
                    of_all_places,
                    {"each": one.line(key), "count": one.count},
                    unit="money",
                )
            )
            for one in self.placed
        }
        return worked(TITLES[Line.PART if key == PRICE else Line.ATTRITION], sum_of_lines, each, unit="money")

    def loads(self) -> Step:
        """Everything the board pays for at rates."""
        choice, model = self.choice, self.choice.model
        content, decision = model.bench.content, model.decisions[choice.best.decision]
        kind, board = decision.board, model.bench.board_step
        rate = self.decided(kind.rate, "price of the class of board, as a factor")
        layers = self.decided(kind.layers, "layers")
        whole = {one.ref: earlier(self._of_part(one, rate, layers)) for one in self.placed}
        plan = {
            "plan": self.decided(decision.plan, "plan of inspection and test"),
            "xray_anyway": of_study(content, "board.xray_anyway"),
        }
        whole["plan"] = earlier(worked("inspection and test of every board", shared_plan, plan))
        today = model.bench.line
        foil = {
            "stepped": self.decided(decision.stepped, "stepped foil"),
            "better_foil": self.decided(decision.technology != today.technology, "another foil technology"),
            "finer_powders": self.decided(finer_powders(today, decision), "classes of powder finer than today's"),
        }
        whole["print"] = earlier(worked("its print", print_loads, foil))
        used = {
            "board": earlier(board),
            "counts": stated(tuple(part.count for part in self.parts), "refs of all parts"),
            **{part.part.refs[0]: _courtyard(part) for part in self.parts},
        }
        rest = worked("board area that these parts leave", rest_of_board, used, unit="mm2")
        room = {
            "sides": of_study(content, "board.sides"),
            "rest_mm2": earlier(rest),
            "layers": layers,
            "area_rate": rate,
        }
        whole["board"] = earlier(worked("the board itself", board_loads, room))
        if decision.size is not None:
            whole["panel"] = earlier(self._panel(decision, decision.size, rate, layers))
        whole["once"] = earlier(self._once(content.board))
        return worked("everything it pays for", all_loads, whole, key="board-loads")

    def _panel(self, decision: Decision, size: BoardSize, rate: Given, layers: Given) -> Step:
        """What the board pays for the panel that it comes on."""
        model = self.choice.model
        content, board = model.bench.content, model.bench.board_step
        sides = {
            "length_mm": self.decided(size.length_mm, "length up to which a panel holds as many", "mm"),
            "width_mm": self.decided(size.width_mm, "width up to which a panel holds as many", "mm"),
        }
        count = worked("boards on one panel", images_on, {"board": earlier(board), **sides})
        taken = worked(
            "panels that a board takes, whole panels bought",
            panels_a_board,
            {"run": of_study(content, "costs.run"), "each": earlier(count)},
        )
        given = {
            "panel_mm2": earlier(worked("area of a panel", panel_area, {"board": earlier(board)}, unit="mm2")),
            "panels": earlier(taken),
            "layers": layers,
            "area_rate": rate,
            "price": stated(panel_price(content.board, decision.board), "price of one panel", "money"),
        }
        return worked("the panel", panel_loads, given)

    def _of_part(self, one: _Placed, rate: Given, layers: Given) -> Step:
        model = self.choice.model
        board = model.bench.content.board
        margin = worked(
            "of it, what is paid for",
            paid_area,
            {"area_mm2": earlier(self.keep_out(one)), "board": earlier(model.bench.board_step)},
            unit="mm2",
        )
        moved = is_changed(board, one.part.present, one.option)
        more = one.part.beside
        beside = {"beside": self.decided(more, "what its way of grouping adds")} if more else {}
        if one.part.reel:
            beside["feeder"] = self.decided(False, "a feeder of its own: its reel may serve others, and is paid once")
        return worked(
            f"what all places of {one.part.name} pay for",
            placed_loads,
            {
                "loads": earlier(one.loads()),
                "count": one.count,
                "area_rate": rate,
                "keep_out_mm2": earlier(margin),
                "layers": layers,
                "changed": self.decided(moved, "another package than an existing board carries"),
                **beside,
            },
        )

    def _once(self, board: Board) -> Step:
        model = self.choice.model
        reels = tuple(reel_in(one.part, one.option) for one in self.placed if one.part.reel)
        shared = {"reels": self.decided(reels, "reels that parts may share")} if reels else {}
        outlines = {one.ref: of_outline(one.option.geometry.outline) for one in self.placed}
        drilled = worked(
            "a second soldering process",
            drilled_among,
            {
                "drilled_anyway": of_study(model.bench.content, "board.drilled_anyway"),
                "soldering": model.bench.leaves["drilled_soldering"],
                **outlines,
            },
        )
        printed = worked(
            "a print for these parts alone",
            printed_among,
            {"printed_anyway": of_study(model.bench.content, "board.printed_anyway"), **outlines},
        )
        return worked(
            "what is paid once for all that need it",
            once_loads,
            {
                "outlines": self.decided(tuple(one.option.name for one in self.placed), "packages"),
                "stocked": stated(stocked_of(board, self.parts), "packages of an existing board"),
                "drilled": earlier(drilled),
                "printed": earlier(printed),
                **shared,
            },
        )

    def area(self) -> Figure:
        """The area of all courtyards, with test lands where they are wanted and the margins of steps."""
        each = {
            one.ref: worked(
                f"{one.part.name} in {one.option.name}",
                placed_area,
                {
                    "area_mm2": earlier(one.gives("area")),
                    "keep_out_mm2": earlier(self.keep_out(one)),
                    "count": one.count,
                },
                unit="mm2",
            )
            for one in self.placed
        }
        whole = worked(
            "sum over the parts", sum_of_parts, {ref: earlier(step) for ref, step in each.items()}, unit="mm2"
        )
        return figure(
            whole,
            key="area",
            title="board area of the parts",
            better="less",
            verdict=worst(one.option.figures["area"].verdict for one in self.placed),
            why="courtyards, test lands where every net is to be probed, and the clear margins of steps",
            trail=(*each.values(), whole),
        )

    def yields(self) -> tuple[Figure, ...]:
        """Expected defects and first-pass yield, over the parts whose package in use is known, as in the totals."""
        known = [one for one in self.placed if one.part.present is not None]
        if not any(one.option.geometry.rates for one in known):
            return ()
        given = {"counts": stated(tuple(one.part.count for one in known), "refs of all parts")}
        rates = {one.ref: earlier(one.option.geometry.stations["defects"]) for one in known}
        whole = worked(
            "how far bad parts share boards, and the defects of all",
            yield_of_board,
            {**given, **rates},
            key="board-yield",
            sources=("rate-simulation",),
        )
        verdict = worst(one.option.figures["defects"].verdict for one in known if "defects" in one.option.figures)
        told: tuple[tuple[str, str, Callable[..., Estimate | float]], ...] = (
            ("defects", "expected defects on one board", defects_of),
            ("hidden-defects", "of them, what can't be seen from above", hidden_of),
            ("first-pass", "boards without a defect", first_pass_of),
            ("dpmo", "defects per million parts, placements and joints", dpmo_of),
        )
        found = []
        for key, title, by in told:
            step = worked(title, by, {"found": earlier(whole)})
            better: Better = "more" if key == "first-pass" else "less"
            why = "drilled parts are not in it; their joints are counted with the cost"
            found.append(figure(step, key=key, title=title, better=better, verdict=verdict, why=why))
        return tuple(found)

    def weakest(self) -> tuple[Figure, ...]:
        """Life, vibration and shock: the board is as good as its weakest part."""
        found = []
        for key in WEAKEST:
            having = [(one, one.option.figures[key]) for one in self.placed if key in one.option.figures]
            known = [(one, held) for one, held in having if held.value is not None]
            if not known:
                continue
            more = known[0][1].better != "less"
            given = {one.ref: earlier(step) for one, held in known if (step := held.gives) is not None}
            step = worked("the weakest part", least_of if more else most_of, given, unit=known[0][1].unit)
            at = next(pair for pair in known if pair[1].value == step.value)
            unknown = [one.part.name for one, held in having if held.value is None and held.verdict != "holds"]
            why = f"{at[0].part.name} in {at[0].option.name}: {at[1].why}"
            found.append(
                figure(
                    step,
                    key=key,
                    title=f"{at[1].title}, weakest part",
                    better=at[1].better,
                    limit=at[1].limit,
                    limit_source=at[1].limit_source,
                    verdict=worst(held.verdict for _, held in having),
                    why=why + (f"; not known of {', '.join(unknown)}" if unknown else ""),
                    interval=at[1].low is not None,
                )
            )
        return tuple(found)


def _courtyard(part: PartResult) -> Given:
    """Area of the package in use, or of the smallest option where it is not known."""
    option = part.present or min(part.options, key=lambda one: one.area_mm2)
    step = option.figures["area"].gives
    assert step is not None  # an area always has a value
    return earlier(step)


def _line_figure(line: Line, step: Step, total: Figure) -> Figure:
    return figure(
        step,
        key=f"cost-{line.value}",
        title=f"{TITLES[line]}, on one good board",
        better="less",
        verdict=total.verdict,
        why="a line of the cost",
    )
