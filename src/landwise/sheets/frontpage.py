"""Page one of a report and what comes after it: the answer in three sentences and two pictures, the open decisions."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

from landwise.board.answer import PartAnswer
from landwise.board.result import BoardResult
from landwise.judging.results import BoardTotals, PartResult
from landwise.quantities import significant
from landwise.results.answer import ahead_says, board_sure, hangs_on, sure_line
from landwise.results.choice import conflict_says, panel_line
from landwise.results.choicewords import proven_says
from landwise.results.roomwords import room_line
from landwise.results.told import board_cautions, foils_counted, unshown_lives
from landwise.sheets.lettering import line_mm, width_mm
from landwise.sheets.look import LIGHT, NARROW, SMALL, TEXT, Stroke, Theme
from landwise.sheets.svg import Mark, Picture, Text, rectangle, write_svg
from landwise.sheets.trays import PX_PER_MM, Tray, items_of, trays_svg
from landwise.untyped import Fields

WIDE_MM = 174.0  # the text width of an upright A4 page
NARROW_MM = 96.0  # the text width of a hand-held screen, about 366 px
MOST_NAMED = 4  # changes named in a sentence; the picture and the pages after it show all
MOST_HANGS = 3
MOST_CAUTIONS = 4
MOST_DECISIONS = 14  # pages, so that page one and the line of parts that stay make 16
BAR_MM = 7.0
BARS_GAP_MM = 8.0


@dataclass(frozen=True)
class Decision:
    """Parts that share a page: the numbers of their results, the one whose card is shown first."""

    numbers: tuple[int, ...]
    answer: PartAnswer | None


@dataclass(frozen=True)
class Sorted:
    """The parts of a board by what a reader has to do about them."""

    decisions: tuple[Decision, ...]
    further: tuple[Decision, ...]
    stays: tuple[int, ...]


def decisions_of(result: BoardResult) -> Sorted:
    """Which parts need a page and which a line.

    A part needs a page when it changes, when it is new, when nothing fits, or when its answer is not simply decided.
    Parts of one function that come and go alike share it. The most important come first: those that can't be
    decided or placed, then changes by the area they move; what no page is left for stands under `further`.
    """
    answers = {one.part: one for one in (result.choice.answer.parts if result.choice and result.choice.answer else ())}
    groups: dict[Hashable, list[int]] = {}
    stays = []
    for number, part in enumerate(result.parts):
        answer = answers.get(part.part.refs[0])
        if _obvious(part, answer):
            stays.append(number)
        else:
            groups.setdefault(_alike(part, answer), []).append(number)
    found = [
        Decision(tuple(numbers), answers.get(result.parts[numbers[0]].part.refs[0])) for numbers in groups.values()
    ]
    found.sort(key=lambda one: _rank(one, result))
    return Sorted(tuple(found[:MOST_DECISIONS]), tuple(found[MOST_DECISIONS:]), tuple(stays))


def _obvious(part: PartResult, answer: PartAnswer | None) -> bool:
    stays = part.chosen is not None and part.present is not None and part.chosen.name == part.present.name
    return not part.part.fitted or part.part.locked or (stays and (answer is None or answer.kind == "decided"))


def _alike(part: PartResult, answer: PartAnswer | None) -> Hashable:
    return (
        part.part.function,
        part.terminals,
        part.present.name if part.present else "",
        part.chosen.name if part.chosen else "",
        answer.kind if answer else "",
        tuple(option.name for option in part.options[:3]),
    )


def _rank(one: Decision, result: BoardResult) -> tuple[int, float]:
    parts = [result.parts[number] for number in one.numbers]
    if any(part.chosen is None for part in parts):
        return 0, 0.0
    if one.answer is not None and one.answer.kind == "not decided":
        return 1, -one.answer.everything
    moved = sum(
        abs(part.present.area_mm2 - part.chosen.area_mm2) * part.count for part in parts if part.present and part.chosen
    )
    return (2 if moved else 3), -moved


# --- words ---


def sentences(result: BoardResult) -> list[tuple[str, str]]:
    """What to change, what it gains, how sure it is: each with its question."""
    said = [("What to change", what_to_change(result))]
    conflict = conflict_says(result.choice)
    if conflict:
        said.insert(0, ("What conflicts", " ".join(map(_sentence, conflict))))
    gained = what_it_gains(result.before, result.after, result.content.costs.unit)
    foils = foils_counted(result)
    if gained and foils:
        gained += (
            f" Today's board is counted through a {foils[0]:g} µm foil, this one through {foils[1]:g} µm, which prints"
            " every part of the board."
        )
    if gained:
        said.append(("What it gains", gained))
    on_panel = panel_line(result.choice)
    if on_panel:
        said.append(("On its panel", _sentence(on_panel)))
    room = room_line(result)
    if room:
        said.append(("Room", _sentence(room)))
    answer = result.choice.answer if result.choice else None
    if answer is not None:
        sure = board_sure(result)
        said.append(("How sure", _sentence(sure)))
    return said


def what_to_change(result: BoardResult) -> str:
    """The changes by name, of many the greatest and how many more; the rest stays."""
    fitted = [part for part in result.parts if part.part.fitted]
    moves = [p for p in fitted if p.chosen and p.present and p.chosen.name != p.present.name]
    fresh = [p for p in fitted if p.chosen and p.present is None]
    stuck = [p for p in fitted if p.chosen is None]
    stays = [p for p in fitted if p.chosen and p.present and p.chosen.name == p.present.name]
    bits = []
    if result.choice is not None and not result.choice.best.found:
        bits.append(f"{result.choice.proof[0].upper()}{result.choice.proof[1:]}. Each part by itself:")
    elif result.choice is not None and result.choice.best.status != "optimal":
        bits.append(_sentence(proven_says(result.choice)))
    moves.sort(key=lambda p: -abs(p.present.area_mm2 - p.chosen.area_mm2) * p.count if p.present and p.chosen else 0.0)
    if moves:
        named = [f"{_refs(p)} from {p.present.name} to {p.chosen.name}" for p in moves if p.present and p.chosen]
        bits.append(f"Change {_few(named, '; ')}.")
    if fresh:
        bits.append(f"Take {_few([f'{_refs(p)} in {p.chosen.name}' for p in fresh if p.chosen], '; ')}.")
    if stays:
        whole = not (moves or fresh or stuck)
        bits.append("Keep every part as it is." if whole else f"Keep {_few([_refs(p) for p in stays], '; ')} as today.")
    if stuck:
        bits.append(f"No package fits the limits for {_few([_refs(p) for p in stuck], ', ')}.")
    return " ".join(bits) or "Nothing to choose."


def _few(names: Sequence[str], between: str) -> str:
    if len(names) <= MOST_NAMED + 1:
        return between.join(names)
    return f"{between.join(names[:MOST_NAMED])}, and {len(names) - MOST_NAMED} more"


def what_it_gains(before: BoardTotals | None, after: BoardTotals | None, unit: str) -> str:
    """Area and money before and after, in one sentence; empty where nothing can be compared."""
    if before is None or after is None or before.area_mm2 <= 0:
        return ""
    area = _change(before.area_mm2, after.area_mm2, "mm²")
    money = _change(before.cost, after.cost, f"{unit} a board")
    guessed = "" if after.prices_known else "; some part prices are guessed"
    return f"Board area of these parts: {area}. Cost on one good board: {money}{guessed}."


def _change(was: float, now: float, unit: str) -> str:
    if significant(was) == significant(now) or was <= 0:
        return f"{significant(now)} {unit}, as today"
    share = f"{abs(was - now) / was:.0%} {'less' if now < was else 'more'}"
    return f"{significant(was)} to {significant(now)} {unit} ({share})"


def stays_lines(result: BoardResult, found: Sorted) -> list[str]:
    """A line for each part that stays, and one for each decision that no page was left for."""
    answers = {one.part: one for one in (result.choice.answer.parts if result.choice and result.choice.answer else ())}
    lines = []
    for number in found.stays:
        part = result.parts[number]
        if not part.part.fitted:
            lines.append(f"{_refs(part)}: not fitted.")
            continue
        answer = answers.get(part.part.refs[0])
        why = "locked" if part.part.locked else part.runner_up
        sure = f"; {ahead_says(answer)}" if answer and answer.rival and not part.part.locked else ""
        lines.append(f"{_refs(part)} stays in {part.chosen.name if part.chosen else '–'}: {why}{sure}.")
    for one in found.further:
        part = result.parts[one.numbers[0]]
        to = part.chosen.name if part.chosen else "nothing that fits"
        refs = ", ".join(_refs(result.parts[number]) for number in one.numbers)
        lines.append(f"{refs}: {part.present.name if part.present else 'new'} to {to}; its page is in the annex.")
    return lines


def _refs(part: PartResult) -> str:
    refs = part.part.refs
    return ", ".join(refs) if len(refs) <= MOST_NAMED else f"{', '.join(refs[:2])} and {len(refs) - 2} more"


def front_data(result: BoardResult) -> Fields:
    """Everything page one says, as plain data for its two forms."""
    found = decisions_of(result)
    cautions = list(board_cautions(result.parts, result.content))
    unit = result.content.costs.unit
    return {
        "sentences": sentences(result),
        "binding": cautions[:MOST_CAUTIONS],
        "more_binding": max(0, len(cautions) - MOST_CAUTIONS),
        "hangs": [*_unshown(result), *hangs_on(result)][:MOST_HANGS],
        "decisions": [
            {
                "number": one.numbers[0],
                "name": ", ".join(_refs(result.parts[n]) for n in one.numbers),
                "change": _change_words(result.parts[one.numbers[0]]),
                "sure": ""
                if one.answer is None
                else _sentence(sure_line(one.answer, result.parts[one.numbers[0]], unit)),
            }
            for one in found.decisions
        ],
        "stays": stays_lines(result, found),
    }


def _unshown(result: BoardResult) -> list[str]:
    """What nothing shows of how long it lasts, as the first thing that a choice hangs on."""
    unshown = unshown_lives(result.parts, result.content)
    return [unshown] if unshown else []


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def _change_words(part: PartResult) -> str:
    was, now = part.present.name if part.present else "", part.chosen.name if part.chosen else ""
    if not now:
        return f"nothing fits the limits; {was} today" if was else "nothing fits the limits"
    if not was:
        return f"take {now}"
    return f"stay in {now}" if was == now else f"{was} → {now}"


# --- pictures ---


def trays_of(result: BoardResult) -> list[Tray]:
    """Today's parts and the chosen ones; empty where nothing can be compared."""
    known = [p for p in result.parts if p.present is not None and p.chosen is not None and p.part.fitted]
    was = sum(p.present.area_mm2 * p.count for p in known if p.present)
    now = sum(p.chosen.area_mm2 * p.count for p in known if p.chosen)
    if not known or was <= 0:
        return []
    return [
        Tray("Today", f"{was:.0f}\u2009mm²", 1.0, items_of([(p.part.refs, p.present) for p in known if p.present])),
        Tray("After", f"{now:.0f}\u2009mm²", now / was, items_of([(p.part.refs, p.chosen) for p in known if p.chosen])),
    ]


def _drawn(_key: Hashable, _part: object, make: Callable[[], Picture]) -> Picture:
    return make()


def before_after_svg(result: BoardResult, prefix: str = "trays", wide_mm: float = WIDE_MM) -> tuple[str, str] | None:
    """Both boards' parts side by side at one scale over one rule, and the scale in words."""
    trays = trays_of(result)
    return trays_svg(trays, wide_mm * PX_PER_MM, _drawn, prefix) if trays else None


def gain_svg(result: BoardResult, prefix: str = "gain", wide_mm: float = WIDE_MM, theme: Theme = LIGHT) -> str | None:
    """Area and money as two pairs of bars, each pair on its own scale from zero; one below the other where narrow."""
    before, after = result.before, result.after
    if before is None or after is None or before.area_mm2 <= 0 or before.cost <= 0:
        return None
    unit = result.content.costs.unit
    pairs = (
        ("Board area of the parts", before.area_mm2, after.area_mm2, "mm²"),
        ("Cost on one good board", before.cost, after.cost, unit),
    )
    stacked = wide_mm < WIDE_MM
    wide = wide_mm if stacked else (wide_mm - BARS_GAP_MM) / 2
    high = line_mm(TEXT) + 2.0 + 2 * BAR_MM + 2.5
    marks: list[Mark] = []
    for at, (title, was, now, says) in enumerate(pairs):
        left, above = (0.0, at * (high + 2.0)) if stacked else (at * (wide + BARS_GAP_MM), 0.0)
        base = above + line_mm(TEXT)
        marks.append(Text(left, base - 1.0, title, TEXT, font="bold"))
        texts = [f"{significant(value)}\u2009{says}" for value in (was, now)]
        name = max(width_mm("today", SMALL), width_mm("after", SMALL)) + 2.0
        room = wide - name - max(width_mm(text, SMALL, "bold") for text in texts) - 2.0
        for row, (label, value, text) in enumerate(zip(("today", "after"), (was, now), texts, strict=True)):
            y = base + 2.0 + row * (BAR_MM + 1.5)
            end = left + name + room * value / max(was, now)
            marks.append(Text(left, y + BAR_MM / 2 + 1.1, label, SMALL, "graphite"))
            fill, pen = ("", Stroke("ink", NARROW)) if row == 0 else ("steel", Stroke("ink", NARROW))
            marks.append(rectangle((left + name, y, end, y + BAR_MM), fill, pen))
            marks.append(Text(end + 1.5, y + BAR_MM / 2 + 1.1, text, SMALL, font="bold"))
    box = (-0.5, 0.0, wide_mm + 0.5, 2 * high + 2.0 if stacked else high)
    said = "; ".join(f"{title}: {was:.3g} to {now:.3g} {says}" for title, was, now, says in pairs)
    return write_svg(
        Picture(tuple(marks)),
        box,
        title="Area and money, today and after",
        description=said,
        prefix=prefix,
        theme=theme,
    )
