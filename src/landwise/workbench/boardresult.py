"""What the board page says about a choice: words, tables, pictures, of the best board or a point of the trade-off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import quote

from landwise.board.answer import BoardAnswer, PartAnswer
from landwise.board.chosen import BoardChoice
from landwise.board.result import BoardResult
from landwise.choosing.optimum.model import Solution
from landwise.errors import UnknownNameError
from landwise.judging.lifetime import asked_of
from landwise.judging.results import BoardTotals, OptionResult, PartResult
from landwise.judging.totals import totals
from landwise.quantities import significant
from landwise.results.answer import board_sure, hangs_on
from landwise.results.choice import choice_data, panel_line
from landwise.results.choicejson import ChoiceJson
from landwise.results.choicewords import choice_lines, relaxed_lines
from landwise.results.grouping import page as grouping_page
from landwise.results.notewords import notes_say
from landwise.results.scenarios import beside, lines, parts_apart, recommended, recommended_says
from landwise.results.told import asked, board_cautions, foil_asked, print_asked, room_asked, wishes_asked
from landwise.results.verdict import verdict_of
from landwise.sheets.boardpage import board_page, placing_picture_svg, tradeoff_boards
from landwise.sheets.cards import title_of, why_of
from landwise.sheets.reportdata import CAUTIONS, area_sentence, headline, totals_rows
from landwise.sheets.tradeoff import linked_tradeoff
from landwise.sheets.trays import Draw, Tray, items_of, trays_svg
from landwise.study.file import StudyFile
from landwise.untyped import Fields, Table
from landwise.workbench.units import Units, area_text

PRINT_FIELDS = ("board.printed_anyway",)
FOIL_FIELDS = ("line.foil", "board.thickest_foil")
ROOM_FIELDS = ("board.length", "board.width", "want.board_limits.area")
MOST_REFS = 4
LONGEST_HEADLINE = 400  # characters
MOST_NUMBERED = 16  # boards of the trade-off that carry their number in the picture


@dataclass(frozen=True)
class View:
    """How a choice is looked at: the study's id, a point of the trade-off (0 for the choice itself), units, room."""

    id: str
    point: int = 0
    units: Units = "mm"
    room_px: float = 900.0

    # fields of this view, as `replace` takes them
    def address(self, **changes: Any) -> str:
        """The page's address for this view, or one that differs from it."""
        view = replace(self, **changes)
        pairs = [("point", str(view.point) if view.point else ""), ("units", "mil" if view.units == "mil" else "")]
        query = "&".join(f"{name}={text}" for name, text in pairs if text)
        return f"/boards/{view.id}" + (f"?{query}" if query else "")


def told(result: BoardResult, view: View, draw: Draw) -> Fields:
    """Everything the page says of a result whose board was chosen, or can't be.

    Raises
    ------
    UnknownNameError
        If there is no such point.
    """
    choice = result.choice
    assert choice is not None
    data = ChoiceJson.model_validate(choice_data(choice))
    page = board_page(result) or {}
    found = {
        "result": result,
        "page": page,
        "lines": choice_lines(data),
        "cautions": CAUTIONS,
        "found": choice.best.found,
        "relaxed": relaxed_lines(data),
        "conflict": data.conflict,
        "unit": result.content.costs.unit,
        "notes": notes_say(result.notes),
        "left_out": data.left_out,
        "said": _said(data),
        "points": (),
        "point": None,
        "guesses": sum(len(p.part.guesses) for p in result.parts),
    }
    if not choice.best.found:
        return {
            **found,
            "headline": "No board fits these limits." if data.status == "infeasible" else "Nothing found yet.",
        }
    shown = _solution(choice, view.point)
    rows, trays, before, after = _parts(result, choice, shown, view)
    svg, scale = trays_svg(trays, view.room_px, draw) if any(tray.items for tray in trays) else ("", "")
    answer = choice.answer
    grouping = grouping_page(result)
    return {
        **found,
        "brief": _brief(before, after, result.content.costs.unit),
        "sure": board_sure(result),
        "sure_brief": "" if answer is None else _counts(answer),
        "hangs": hangs_on(result),
        "binding": list(board_cautions(result.parts, result.content)),
        "asked": asked(result),
        "asks": asks(result),
        "grouping": grouping,
        "sections": _sections(
            page, grouping=grouping is not None, curve=len(choice.points) > 1, weighed=result.scenarios is not None
        ),
        "headline": _headline(result) if not view.point else "",
        "on_panel": panel_line(choice) if not view.point else "",
        "point": _point(result, choice, view) if view.point else None,
        "parts": rows,
        "totals": totals_rows(before, after, result.content.costs.unit),
        "trays": svg,
        "scale": scale,
        "curve": _curve(result, view),
        "weighed": None if view.point else _weighed(result),
        "placing": placing_picture_svg(result) if not view.point else None,
        "points": _points(page, view),
    }


def asks(result: BoardResult) -> list[str]:
    """The fields that answer what the study leaves to be asked."""
    content: StudyFile = result.content
    names: list[str] = []
    if wishes_asked(result.parts, content):
        names.append("want.terminals")
    if print_asked(result):
        names += PRINT_FIELDS
    if foil_asked(result):
        names += FOIL_FIELDS
    if room_asked(result):
        names += ROOM_FIELDS
    if asked_of(content) and "environment" not in content.use.model_fields_set and not content.use.cycles:
        names.append("use.environment")
    return names


def _brief(before: BoardTotals | None, after: BoardTotals | None, unit: str) -> list[tuple[str, str, str]]:
    """The two figures of the line that stays in sight: what, today, after."""
    if before is None or after is None:
        return []
    return [
        ("Area", f"{before.area_mm2:.0f}", f"{after.area_mm2:.0f}\u2009mm²"),
        ("Cost", significant(before.cost), f"{significant(after.cost)} {unit}"),
    ]


def _weighed(result: BoardResult) -> dict[str, object] | None:
    """The scenarios side by side; None where there are none, or they could not be weighed."""
    found = result.scenarios
    if found is None:
        return None
    unit = result.content.costs.unit
    said = lines(found, unit)
    if found.moved and not found.taken:  # its last sentence names the study's key; here there is a field
        said = [*said[:-1], "Over scenarios: worst regret, on the left, would choose so."]
    return {
        "says": [recommended_says(found, unit), *said],
        "columns": beside(found),
        "refs": parts_apart(found),
        "recommended": recommended(found),
    }


def _sections(page: Table, *, grouping: bool, curve: bool, weighed: bool) -> list[tuple[str, str]]:
    """Heads of the page that the line in sight leads to: their place and a short name."""
    firm = bool(page.get("firm"))
    named = (
        ("part-by-part", "Parts", True),
        ("grouping", "How many", grouping),
        ("shared", "Shared", True),
        ("trade", "Trade-off", curve),
        ("scenarios", "Scenarios", weighed),
        ("steps", "Steps", bool(page.get("steps")) and firm),
        ("room", "Room", bool(page.get("placing")) and firm),
        ("firm", "How firm", firm),
        ("take", "Take along", True),
    )
    return [(place, title) for place, title, there in named if there]


def _counts(answer: BoardAnswer) -> str:
    """How many parts are decided, equal and not decided."""
    kinds = [one.kind for one in answer.parts]
    return ", ".join(f"{kinds.count(kind)} {kind}" for kind in ("decided", "equal", "not decided") if kind in kinds)


def _kind(answers: Mapping[str, PartAnswer], ref: str) -> str:
    """How sure a part's choice is, with what would do as well."""
    answer = answers.get(ref)
    if answer is None:
        return ""
    others = answer.options[1:]
    return f"equal to {', '.join(others)}" if answer.kind == "equal" and others else answer.kind


def _headline(result: BoardResult) -> str:
    """The report's headline; of a board with many changes only how many."""
    whole = headline(result)
    if len(whole) <= LONGEST_HEADLINE:
        return whole
    moved = sum(part.chosen is not part.present for part in result.parts if part.chosen and part.present)
    return f"Change {moved} of {len(result.parts)} part numbers. {area_sentence(result)}".rstrip()


def _solution(choice: BoardChoice, point: int) -> Solution:
    if not point:
        return choice.best
    if not 1 <= point <= len(choice.points):
        raise UnknownNameError("no such point", place="point", found=str(point), expected=f"1 to {len(choice.points)}")
    return choice.points[point - 1].found


def _said(data: ChoiceJson) -> str:
    """The news for who can't see the drawings."""
    if not data.options:
        return data.proof
    return f"Choice: {', '.join(f'{ref} {name}' for ref, name in data.options.items())}. {data.decision}."


def _parts(
    result: BoardResult, choice: BoardChoice, shown: Solution, view: View
) -> tuple[list[Fields], list[Tray], BoardTotals | None, BoardTotals | None]:
    """The table's rows, both trays, and the totals before and after."""
    model = choice.model
    place = {part.part.refs[0]: p for p, part in enumerate(model.parts)}
    next_best = {other.ref: other for other in choice.alternatives}
    holds = {hold.ref: hold for hold in choice.holds}
    answers = {one.part: one for one in (choice.answer.parts if choice.answer else ())}
    rows = []
    pairs: list[tuple[PartResult, OptionResult | None, OptionResult | None]] = []
    for part in result.parts:
        ref = part.part.refs[0]
        p = place.get(ref)
        option = part.chosen if p is None else model.judged[shown.decision, p, shown.choice[p]]
        best = None if p is None or not choice.best.found else model.names[p][choice.best.choice[p]]
        pairs.append((part, part.present, option if p is not None else None))
        other = next_best.get(ref)
        rows.append(
            {
                "refs": _refs(part.part.refs),
                "title": title_of(part),
                "link": f"/part?study={view.id}&ref={quote(part.part.refs[0])}",
                "today": part.present.name if part.present else "",
                "option": option.name if option is not None and p is not None else "",
                "moved": option is not None and (part.present is None or option.name != part.present.name),
                "differs": bool(view.point) and option is not None and option.name != best,
                "locked": part.part.locked,
                "areas": _areas(part, option, view.units),
                "verdict": verdict_of(option) if option is not None else "not known",
                "why": why_of(option) if option is not None else part.says,
                "other": None if other is None or view.point else (other.option, _more(other.more)),
                "hold": significant(holds[ref].saved) if ref in holds and not view.point else "",
                "sure": "" if view.point else _kind(answers, ref),
            }
        )
    known = [(part, was, now) for part, was, now in pairs if was is not None and now is not None and part.part.fitted]
    before, after = _totals(result, choice, shown, view, known)
    today = sum(was.area_mm2 * part.count for part, was, _ in known)
    then = sum(now.area_mm2 * part.count for part, _, now in known)
    title = f"Point {view.point}" if view.point else "Chosen"
    trays = [
        Tray("Today", area_text(today, view.units), 1.0, items_of([(part.part.refs, was) for part, was, _ in known])),
        Tray(
            title,
            area_text(then, view.units),
            then / today if today else 0.0,
            items_of([(part.part.refs, now) for part, _, now in known]),
        ),
    ]
    return rows, trays, before, after


def _totals(
    result: BoardResult,
    choice: BoardChoice,
    shown: Solution,
    view: View,
    known: Sequence[tuple[PartResult, OptionResult, OptionResult]],
) -> tuple[BoardTotals | None, BoardTotals | None]:
    if not view.point or not known:
        return result.before, result.after
    point, model = choice.points[view.point - 1], choice.model
    bench = replace(model.bench, line=model.line_of(shown.decision))
    after = totals([(now, part.count) for part, _, now in known], bench)
    values = dict(zip(choice.axes, point.values, strict=True))
    return result.before, replace(
        after, cost=values["cost"], area_mm2=values["area"], foil_demand=model.says(shown.decision)
    )


def _more(more: float) -> str:
    """What another package costs more, in the page's money; less in words, as only an equal of today's does.

    >>> _more(0.0123), _more(-0.00282)
    ('0.0123', '0.00282 less, equal')
    """
    return significant(more) if more >= 0 else f"{significant(-more)} less, equal"


def _refs(refs: Sequence[str]) -> str:
    return ", ".join(refs) if len(refs) <= MOST_REFS else f"{', '.join(refs[:2])} and {len(refs) - 2} more"


def _areas(part: PartResult, option: OptionResult | None, units: Units) -> tuple[str, str]:
    """Area of all places of a part, today and then."""
    was = "" if part.present is None else area_text(part.present.area_mm2 * part.count, units)
    return was, "" if option is None else area_text(option.area_mm2 * part.count, units)


def _point(result: BoardResult, choice: BoardChoice, view: View) -> Fields:
    point = choice.points[view.point - 1]
    differs = choice.differences(point.found)
    values = dict(zip(choice.axes, point.values, strict=True))
    return {
        "number": view.point,
        "cost": significant(values["cost"]),
        "more": significant(values["cost"] - (choice.cost or 0.0)) if choice.cost is not None else "",
        "area": area_text(values["area"], view.units),
        "risk": significant(values["risk"]) if "risk" in values else "",
        "differs": ", ".join(differs),
        "is_choice": not differs,
        "decision": choice.model.says(point.found.decision),
        "before": view.point - 1,
        "after": view.point + 1 if view.point < len(choice.points) else 0,
    }


def _points(page: Table, view: View) -> list[Fields]:
    """The trade-off as a list: number, address, values, differences."""
    return [
        {
            "number": int(number),
            "address": view.address(point=int(number)),
            "values": values,
            "decision": decision,
            "differs": differs,
            "here": int(number) == view.point,
        }
        for number, values, decision, differs in page["points"]
    ]


def _curve(result: BoardResult, view: View) -> str:
    """The trade-off with a link on every point."""
    boards = tradeoff_boards(result, opened=view.point)
    if boards is not None and len(boards) > MOST_NUMBERED:
        # So many numerals only hide the points; each says its number when it is pointed at.
        boards = [board if board.kind != "point" else replace(board, label="") for board in boards]
    if boards is None:
        return ""
    choice = result.choice
    assert choice is not None
    unit = result.content.costs.unit
    links = []
    for number in range(1, len(choice.points) + 1):
        values = choice.points[number - 1].values
        differs = ", ".join(choice.differences(choice.points[number - 1].found)) or "the choice"
        links.append(
            (view.address(point=number), f"Point {number}: {values[0]:.4g} {unit}, {values[1]:.4g} mm²; {differs}")
        )
    return linked_tradeoff(
        boards, "board area of the parts, mm²", f"cost on one good board, {unit}", links, prefix="tradeoff"
    )
