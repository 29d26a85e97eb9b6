"""A board's answer for the terminal in ten lines: cautions, changes, what stays, totals, how sure, what to supply."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from landwise.cli.screen import Text
from landwise.quantities import significant
from landwise.results.answer import ahead_says, board_sure, decided_word, hangs_on
from landwise.results.choice import panel_line
from landwise.results.inputwords import input_says
from landwise.results.roomwords import room_line
from landwise.results.told import asked, board_cautions, foils_counted, unshown_lives
from landwise.results.weighed import weighed_says

if TYPE_CHECKING:
    from landwise.board.answer import PartAnswer
    from landwise.board.result import BoardResult
    from landwise.judging.results import BoardTotals, PartResult

LINES = 10
HEAD_AND_FOOT = 2  # the board's name, and where the report lies
LEAST_ROWS = 2
MOST_CAUTIONS = 2
MOST_REFS = 3


def board_lines(result: BoardResult, *, whole: bool = False) -> Iterator[Text]:
    """Cautions, then one line for each change as far as ten lines go (all where asked), then what sums them up."""
    cautions = board_cautions(result.parts, result.content)
    shown = cautions if whole else cautions[:MOST_CAUTIONS]
    for caution in shown:
        yield Text(f"CAUTION  {caution}", style="bold red")
    if len(cautions) > len(shown):
        yield Text(f"CAUTION  {len(cautions) - len(shown)} more stand in the report", style="bold red")
    if result.choice is not None and not result.choice.best.found:
        yield Text(f"{result.choice.proof}; each part stands here as if it were alone", style="bold")
    elif result.choice is not None and result.choice.best.status != "optimal":
        yield Text(result.choice.proof, style="bold")
    ends = list(_ends(result, whole))
    room = LINES - HEAD_AND_FOOT - len(ends) - min(len(cautions), MOST_CAUTIONS + 1)
    yield from _changes(result, len(result.parts) if whole else max(LEAST_ROWS, room))
    yield from ends


def _changes(result: BoardResult, room: int) -> Iterator[Text]:
    """A line a change, the greatest in area first, in columns."""
    answers = {one.part: one for one in (result.choice.answer.parts if result.choice and result.choice.answer else ())}
    moved = [part for part in result.parts if part.part.fitted and _moves(part)]
    moved.sort(key=lambda part: (part.chosen is not None, -abs(_saved(part))))
    shown = moved if len(moved) <= room else moved[: max(1, room - 1)]
    rows = [_row(part, answers.get(part.part.refs[0])) for part in shown]
    widths = [max((len(row[n]) for row in rows), default=0) for n in range(4)]
    for row in rows:
        line = Text("  ")
        for n, (cell, width) in enumerate(zip(row, widths, strict=False)):
            line.append(cell.rjust(width) if n == 3 else cell.ljust(width), style="bold" if n == 2 else "")
            line.append("  " if n != 1 else " → ")
        yield line.append(row[4], style="dim")
    if len(moved) > len(shown):
        yield Text(f"  and {len(moved) - len(shown)} more changes")
    if not moved:
        yield Text("  no package changes: every part stays as it is")


def _moves(part: PartResult) -> bool:
    return part.chosen is None or part.present is None or part.present.name != part.chosen.name


def _saved(part: PartResult) -> float:
    if part.present is None or part.chosen is None:
        return 0.0
    return (part.present.area_mm2 - part.chosen.area_mm2) * part.count


def _row(part: PartResult, answer: PartAnswer | None) -> tuple[str, str, str, str, str]:
    saved = _saved(part)
    area = f"{abs(saved):.3g} mm² {'less' if saved > 0 else 'more'}" if saved else ""
    if part.chosen is None:
        why = "no package fits the limits"
    elif answer is None:
        why = ""
    elif answer.kind == "decided":
        why = f"{decided_word(answer)}; {ahead_says(answer)}"
    elif answer.kind == "equal":
        why = f"equal within what is known: {', '.join(answer.options[:3])}"
    else:
        why = _open_says(answer)
    present, chosen = part.present, part.chosen
    return part.named, present.name if present else "new", chosen.name if chosen else "none fits", area, why


def _open_says(answer: PartAnswer) -> str:
    """What stands beside a choice that is not decided: rivals that come near, else what is worth knowing most."""
    if len(answer.options) > 1:
        return f"not decided: {', '.join(answer.options[:3])}"
    wanted = [input_says(one.input, one.part) for one in answer.inputs[:1]]
    return "not decided" + "".join(f"; worth knowing: {says}" for says in wanted)


def _totals(before: BoardTotals, after: BoardTotals, unit: str, foils: tuple[float, float] | None) -> str:
    """Area and money before and after; where they are counted through different foils, with those."""
    guessed = "" if after.prices_known else ", some part prices guessed"
    through = [f" ({foil:g} µm foil)" for foil in foils] if foils else ["", ""]
    area = f"area {significant(before.area_mm2)} → {significant(after.area_mm2)} mm²"
    cost = f"cost {significant(before.cost)}{through[0]} → {significant(after.cost)}{through[1]} {unit} a board"
    return f"{area}, {cost}{guessed}"


def _ends(result: BoardResult, whole: bool) -> Iterable[Text]:
    unit = result.content.costs.unit
    stays = [part for part in result.parts if part.part.fitted and not _moves(part)]
    moves = any(_moves(part) for part in result.parts if part.part.fitted)
    if stays and moves:
        named = "; ".join(part.named for part in (stays if whole else stays[:MOST_REFS]))
        more = "" if whole or len(stays) <= MOST_REFS else f" and {len(stays) - MOST_REFS} more"
        yield Text(f"  stays: {named}{more}")
    unfitted = [part.named for part in result.parts if not part.part.fitted]
    if unfitted:
        more = "" if whole or len(unfitted) <= MOST_REFS else f" and {len(unfitted) - MOST_REFS} more"
        yield Text(f"  not fitted, in no total: {'; '.join(unfitted if whole else unfitted[:MOST_REFS])}{more}")
    if result.before is not None and result.after is not None:
        yield Text(_totals(result.before, result.after, unit, foils_counted(result)))
    on_panel = panel_line(result.choice)
    if on_panel:
        yield Text(f"panel: {on_panel}")
    room = room_line(result)
    if room and whole:
        yield Text(f"room: {room}")
    weighed = weighed_says(result)
    if weighed and whole:
        yield Text(weighed)
    answer = result.choice.answer if result.choice else None
    if answer is not None:
        yield Text(f"How sure: {board_sure(result)}")
    hangs, questions = hangs_on(result), asked(result)
    if hangs:
        yield Text(f"hangs on: {hangs[0]}")
    unshown = unshown_lives(result.parts, result.content)
    if unshown:
        yield Text(f"{unshown[0].upper()}{unshown[1:]}", style="yellow")
    if questions:
        more = f" ({len(questions) - 1} more: --full)" if len(questions) > 1 else ""
        yield Text(f"asked: {questions[0]}{more}", style="yellow")
