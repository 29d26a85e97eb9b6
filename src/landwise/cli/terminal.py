"""What the terminal shows: tables with verdicts in words, money and numbers as the look page has them."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from landwise.cli.screen import Column, Console, Justify, Table, Text
from landwise.evidence.figures import Verdict
from landwise.judging.limits import LimitKey
from landwise.judging.ratewords import times
from landwise.judging.ratios import defects_against, reference_of
from landwise.quantities import significant
from landwise.results.ratetable import rate_table
from landwise.results.verdict import verdict_of
from landwise.service.safety import binding, cautions_of

if TYPE_CHECKING:
    from landwise.board.result import BoardResult
    from landwise.judging.results import BoardTotals, OptionResult, PartResult
from landwise.results.rowmarks import row_marks

LEFT: Justify = "left"
RIGHT: Justify = "right"

# Word first, then a shape; colour only repeats them.
MARKS: dict[Verdict, str] = {"holds": "●", "marginal": "◐", "fails": "■", "not known": "○"}
COLOURS: dict[Verdict, str] = {"holds": "cyan", "marginal": "yellow", "fails": "red", "not known": "dim"}


def console(stderr: bool = False) -> Console:
    """A console that keeps to the terminal's width, 120 columns when its output is stored."""
    return Console(stderr=stderr)


def print_cautions(out: Console, cautions: Iterable[str]) -> None:
    """What must be told first, each on lines of its own, in words and a colour that repeats them."""
    for caution in cautions:
        out.print(f"CAUTION  {caution}", style="bold red")


def verdict_text(verdict: Verdict) -> Text:
    """`● holds`, coloured where the terminal can."""
    return Text(f"{MARKS[verdict]} {verdict}", style=COLOURS[verdict])


def money(value: float) -> str:
    """Money with three significant digits."""
    return significant(value)


def options_table(part: PartResult, limit: int = 12) -> Table:
    """The options of one part that are compared, best first, and the one in use; `left_out_lines` tell the others."""
    table = Table(
        [
            Column(""),
            Column("outline", no_wrap=True),
            Column("area mm²", RIGHT, no_wrap=True),
            Column("pitch", RIGHT, no_wrap=True),
            Column("verdict", no_wrap=True),
            Column("paste", RIGHT, no_wrap=True),
            Column("seen", RIGHT, no_wrap=True),
            Column("defects", RIGHT),
            Column("cost", RIGHT, no_wrap=True),
            Column("more", RIGHT, no_wrap=True),
            Column("wins", RIGHT, no_wrap=True),
            Column("", below=True),
        ]
    )
    against = {name: times(one.ratio) for name, one in defects_against(part).items()}
    reference = reference_of(part)
    if reference is not None:
        against[reference.name] = "×1"
    for option in _compared(part, limit):
        table.add_row(*_option_row(option, part, against.get(option.name, "–")))
    return table


def defects_lines(part: PartResult) -> Iterator[str]:
    """What the column of defects stands against, and what it leaves out."""
    reference = reference_of(part)
    if reference is not None:
        yield f"defects: expected, over those of {reference.name}, with the 90 % range"
        yield f"defects: {rate_table(part).left_out_of_all}"


def under_table(part: PartResult, limit: int) -> Iterator[str]:
    """The lines that belong under a table of options."""
    yield from (f"left out: {line}" for line in left_out_lines(part, limit))
    yield from defects_lines(part)


def _compared(part: PartResult, limit: int) -> list[OptionResult]:
    ranked = part.standing.more if part.standing else {}
    shown = [option for option in part.options if option.feasible or option.name in ranked][:limit]
    return [*shown, part.present] if part.present is not None and part.present not in shown else shown


def left_out_lines(part: PartResult, limit: int = 12) -> Iterator[str]:
    """The options that a limit keeps out of the comparison, one line for each reason; what the table cuts off as well.

    Options that were never seen on offer are told together: the reason differs by a percentage only.
    """
    shown = _compared(part, limit)
    out = [option for option in part.options if option not in shown]
    for state, where in (
        ("not seen", "not seen on offer (one list, May 2026; which does not mean that nobody makes them)"),
        ("not known", "supply not known"),
    ):
        names = [o.name for o in out if _first_limit(o) == LimitKey.SUPPLY and o.supply.state == state]
        if names:
            yield f'{", ".join(names)}: {where}; an [[offer]] or supply = "any" allows them'
    reasons: dict[str, list[str]] = {}
    for option in out:
        if _first_limit(option) != LimitKey.SUPPLY or option.supply.state not in ("not seen", "not known"):
            says = option.rejections[0].says if option.rejections else "dearer than those shown"
            reasons.setdefault(says, []).append(option.name)
    for says, names in reasons.items():
        yield f"{', '.join(names)}: {says}"


def _first_limit(option: OptionResult) -> str:
    return option.rejections[0].limit if option.rejections else ""


def _option_row(option: OptionResult, part: PartResult, defects: str) -> list[str | Text]:
    standing = part.standing
    mark = "→" if option is part.chosen else ("·" if option is part.present else "")
    transfer = option.figures["transfer"]
    more = standing.more.get(option.name) if standing else None
    wins = standing.wins.get(option.name) if standing else None
    tail = "in use" if option is part.present else ""
    told = binding(cautions_of(option.figures))
    if option.rejections:
        tail = ("in use; " if tail else "") + option.rejections[0].says
    else:
        caution = [f"caution: {told[0].short}"] if told else []
        tail = "; ".join(bit for bit in (tail, *caution, *row_marks(option, part)) if bit)
    return [
        mark,
        Text(option.name, style="bold" if option is part.chosen else ""),
        significant(option.area_mm2),
        f"{option.geometry.outline.pitch_mm:g}",
        verdict_text(verdict_of(option)),
        "–" if transfer.value is None else f"{transfer.value:.0%}",
        f"{option.figures['seen'].value or 0:.0%}",
        defects,
        money(option.cost.total),
        "–" if more is None else f"{more:+.3f}",
        "–" if wins is None else f"{wins:.0%}",
        Text(tail, style="dim"),
    ]


def board_table(result: BoardResult) -> Table:
    """One row a part: in use, chosen, area saved, verdict."""
    table = Table(
        [
            Column("part"),
            Column("n", RIGHT),
            Column("function"),
            Column("in use"),
            Column("choice"),
            Column("area saved", RIGHT),
            Column("verdict", no_wrap=True),
            Column("wins", RIGHT),
            Column("runner-up"),
        ]
    )
    for part in result.parts:
        table.add_row(*_part_row(part, result))
    return table


def _part_row(part: PartResult, result: BoardResult) -> list[str | Text]:
    chosen, present = part.chosen, part.present
    saved = "–"
    if chosen and present and chosen is not present:
        saved = f"{(present.area_mm2 - chosen.area_mm2) * part.count:.0f} mm²"
    wins = result.wins(part)
    others = [option.name for option in part.options if option.feasible and option is not chosen]
    if result.choice is not None:
        others = [other.option for other in result.choice.alternatives if other.ref == part.part.refs[0]]
    return [
        part.part.refs[0] + ("…" if part.count > 1 else ""),
        str(part.count),
        part.part.function,
        present.name if present else "not known",
        Text(chosen.name if chosen else "none fits", style="bold" if chosen else "red"),
        saved,
        verdict_text(verdict_of(chosen)) if chosen else Text("–"),
        "–" if wins is None else f"{wins:.0%}",
        others[0] if others else "–",
    ]


def print_grouping(out: Console, result: BoardResult) -> None:
    """How many packages: each way with its cost, how sure the choice is, what decides; nothing where none is asked."""
    from landwise.results.grouping import HEADS, cautions, decides_says, proof_says, rows, set_says

    found, unit = result.regrouped, result.content.costs.unit
    if found is None:
        return
    print_cautions(out, cautions(found))
    for one in found.sets:
        out.print(Text("How many packages", style="bold").append(f" for {', '.join(one.refs)}"))
        table = Table([Column(name, RIGHT if number else LEFT) for number, name in enumerate(HEADS)])
        for row in rows(one):
            table.add_row(*(Text(cell) for cell in row))
        out.print(table)
        out.print(set_says(one, unit))
        out.print(f"what decides, {decides_says(one, unit)}")
    for line in found.told:
        out.print(f"note: {line}", style="dim")
    out.print(proof_says(found, unit), style="dim")
    out.print()


def print_scenarios(out: Console, result: BoardResult) -> None:
    """Each scenario with its own best and its regret, and what one choice for all gives up; nothing without them."""
    from landwise.results.scenarios import HEADS, lines, rows

    found = result.scenarios
    if found is None:
        return
    table = Table([Column(name, RIGHT if number > 1 else LEFT) for number, name in enumerate(HEADS)])
    for row in rows(found):
        table.add_row(*(Text(cell) for cell in row))
    out.print(table)
    for line in lines(found, result.content.costs.unit):
        out.print(line)
    out.print()


def totals_lines(before: BoardTotals, after: BoardTotals, unit: str) -> Iterable[str]:
    """Board totals before and after, a line each."""
    rows = (
        ("area", f"{before.area_mm2:.0f}", f"{after.area_mm2:.0f} mm²"),
        (
            "cost",
            money(before.cost),
            f"{money(after.cost)} {unit} per board" + ("" if after.prices_known else ", some part prices guessed"),
        ),
        ("drilled leads", str(before.holes), str(after.holes)),
        ("hidden joints", str(before.hidden_joints), str(after.hidden_joints)),
        ("outlines", str(before.outlines), str(after.outlines)),
        ("least pitch", f"{before.least_pitch_mm:g}", f"{after.least_pitch_mm:g} mm"),
    )
    for name, was, is_ in rows:
        yield f"  {name:<14} {was:>8} → {is_}"
    was = f"{before.foil_demand} → " if before.foil_demand != after.foil_demand else ""
    yield f"  {'foil':<14} {was}{after.foil_demand}"


@contextmanager
def stopping() -> Iterator[Callable[[], bool]]:
    """Inside, Ctrl-C only sets a flag that the given function reads; a second Ctrl-C stops at once."""
    asked = False
    before = signal.getsignal(signal.SIGINT)

    def ask(*_: object) -> None:
        nonlocal asked
        if asked:
            raise KeyboardInterrupt
        asked = True

    here = threading.current_thread() is threading.main_thread()
    if here:
        signal.signal(signal.SIGINT, ask)
    try:
        yield lambda: asked
    finally:
        if here:
            signal.signal(signal.SIGINT, before)
