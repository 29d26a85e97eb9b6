"""What the report says about the choice for the whole board, as plain data for both its forms, and its plot."""

from __future__ import annotations

from landwise.board.result import BoardResult
from landwise.quantities import significant
from landwise.results.choice import choice_data
from landwise.results.choicejson import ChoiceJson
from landwise.results.choicewords import behind_says, choice_lines, firm_lines, flip_line, proven_says
from landwise.results.inputwords import label
from landwise.results.weighed import weighed_says
from landwise.sheets.placing import placing_svg
from landwise.sheets.tradeoff import CHOICE, OPENED, TODAY, Board, tradeoff_chart
from landwise.untyped import Fields

MOST_ROWS = 60
MOST_OTHERS = 8
MOST_FLIPS = 8


def board_page(result: BoardResult) -> Fields | None:
    """The section's data; None where each part was ranked by itself."""
    if result.choice is None:
        return None
    told = ChoiceJson.model_validate(choice_data(result.choice))
    firm = told.firm
    return {
        "proof": proven_says(result.choice),
        "objective": told.objective,
        "counts": weighed_says(result),
        "decision": told.decision,
        "equal": told.equal,
        "unit": told.unit,
        "weighed": len(told.decisions),
        "lines": choice_lines(told) if not told.options else [],
        "risks": _risks(result),
        "holds": [(hold.part, _money(hold.saved), hold.decision) for hold in told.holds],
        "limits": [(limit.name, _money(limit.saved), limit.decision) for limit in told.limits],
        "steps_from": told.steps_from,
        "steps": [
            (
                str(step.changes),
                ", ".join(step.changed) or "only what all share",
                _money(step.saved),
                _share(step.saved, told),
                step.decision,
            )
            for step in told.steps
        ],
        "gain": told.gain,
        "runner_up": None
        if told.second is None
        else f"{', '.join(told.second.differs)}, {behind_says(told.second.behind, told.unit)}",
        "alternatives": [
            (a.part, a.option, significant(a.more), "" if a.decision in (told.decision, *told.equal) else a.decision)
            for a in told.alternatives
        ],
        "others": [
            (
                other.decision,
                "–" if other.more is None else _more(other.more),
                (
                    f"no option fits {', '.join(other.kept_out)}, for want of: {', '.join(other.limits)}"
                    if other.kept_out
                    else ""
                    if other.more is not None
                    else "the limits together rule it out"
                ),
            )
            for other in told.others[:MOST_OTHERS]
        ],
        "more_others": max(0, len(told.others) - MOST_OTHERS),
        "left_out": told.left_out,
        "firm": [] if firm is None else firm_lines(firm, flips=0),
        "wins": (
            []
            if firm is None
            else [(ref, _shares(shares), _shares(firm.weight_wins.get(ref, {}))) for ref, shares in firm.wins.items()]
        ),
        "flips": [] if firm is None else [flip_line(flip) for flip in firm.flips[:MOST_FLIPS]],
        "drawn": (
            []
            if firm is None
            else [
                f"{label(one.name)} {significant(one.low)}…{significant(one.high)}"
                for one in firm.inputs
                if one.low < one.high
            ]
        ),
        "axes": told.axes,
        "points": [
            (
                str(number),
                [significant(value) for value in point.values],
                point.decision,
                _changes(point.options, told.options),
            )
            for number, point in enumerate(told.points[:MOST_ROWS], start=1)
        ],
        "more_points": max(0, len(told.points) - MOST_ROWS),
        "complete": told.complete,
        "risk": told.risk,
        "placing": None if told.placing is None else told.placing.says,
        "stuck": told.stuck,
    }


def _money(value: float) -> str:
    return significant(max(value, 0.0)) if value > 0 else "0"


def _more(value: float) -> str:
    return f"{significant(-value)} less, within what is known" if value < 0 else significant(value)


def _share(saved: float, told: ChoiceJson) -> str:
    whole = told.steps[-1].saved if told.steps else 0.0
    return f"{saved / whole:.0%}" if whole > 0 else "–"


def _shares(shares: dict[str, float]) -> str:
    return ", ".join(f"{name} {share:.0%}" for name, share in _ordered(shares)) or "–"


def _ordered(shares: dict[str, float]) -> list[tuple[str, float]]:
    return [pair for pair in sorted(shares.items(), key=lambda pair: -pair[1]) if pair[1] >= 0.005][:4]


def _changes(options: dict[str, str], chosen: dict[str, str]) -> str:
    """How one board of the trade-off differs from the choice."""
    return ", ".join(f"{ref} {name}" for ref, name in options.items() if name != chosen.get(ref)) or "the choice"


def _risks(result: BoardResult) -> list[tuple[str, str, str]]:
    """Figures whose worst verdict over the board changes from today's packages to the chosen ones."""
    order = ("fails", "not known", "marginal", "holds")
    rows = []
    moved = [part for part in result.parts if part.present and part.chosen and part.present is not part.chosen]
    keys = dict.fromkeys(key for part in moved if part.chosen for key in part.chosen.figures if key != "cost")
    for key in keys:
        for part in moved:
            was, now = (option.figures.get(key) if option else None for option in (part.present, part.chosen))
            if was is None or now is None or was.verdict == now.verdict:
                continue
            better = order.index(now.verdict) > order.index(was.verdict)
            rows.append((better, f"{part.name}, {now.title}", f"{was.verdict} → {now.verdict}"))
    rows.sort(key=lambda row: row[0])
    return [(name, change, "less risk" if better else "more risk") for better, name, change in rows]


def placing_picture_svg(result: BoardResult) -> str | None:
    """The packing check of the chosen board; None where the study gives no board size."""
    placing = result.choice.placing if result.choice else None
    return None if placing is None else placing_svg(placing)


def tradeoff_svg(result: BoardResult, prefix: str = "tradeoff") -> str | None:
    """The trade-off of area and cost; None for fewer than two boards."""
    boards = tradeoff_boards(result)
    if boards is None:
        return None
    unit = result.content.costs.unit
    return tradeoff_chart(boards, "board area of the parts, mm²", f"cost on one good board, {unit}", prefix=prefix)


def tradeoff_boards(result: BoardResult, opened: int = 0) -> list[Board] | None:
    """Every board of the trade-off in its order, then today's; None for fewer than two.

    `opened` is the number of the one that a page shows in full.
    """
    choice = result.choice
    if choice is None or len(choice.points) < 2:
        return None
    table = [(point.values[1], point.values[0]) for point in choice.points]
    boards = []
    for number, (x, y) in enumerate(table, start=1):
        beaten = any(a <= x and b <= y and (a, b) != (x, y) for a, b in table)
        same = choice.points[number - 1].found.choice == choice.best.choice
        kind = CHOICE if same else "other" if beaten else "point"
        label = "the choice" if same else "" if beaten else str(number)
        boards.append(Board(x, y, label or str(number), OPENED) if number == opened else Board(x, y, label, kind))
    if result.before is not None and choice.today is not None:
        boards.append(Board(result.before.area_mm2, choice.today, "today", TODAY))
    return boards
