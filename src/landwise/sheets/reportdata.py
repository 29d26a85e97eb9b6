"""What the report of a study says, as plain data for both its forms, the page and the PDF."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from landwise.board.result import BoardResult
from landwise.choosing.values import CRITERIA
from landwise.evidence.figures import Figure
from landwise.judging.ratewords import deposits
from landwise.judging.results import BoardTotals, OptionResult, PartResult, StudyResult
from landwise.quantities import significant
from landwise.results.answer import board_sure, hangs_on, sure_line
from landwise.results.grouping import page as grouping_page
from landwise.results.limitwords import limit_says
from landwise.results.notewords import notes_say
from landwise.results.printjson import print_lines
from landwise.results.ratetable import rate_table
from landwise.results.rowmarks import row_marks
from landwise.results.scenarios import page as scenarios_page
from landwise.results.told import asked, board_cautions
from landwise.results.verdict import verdict_of, word_of
from landwise.sheets.boardpage import board_page
from landwise.sheets.cards import area_text, title_of, why_of
from landwise.sheets.differs import differences
from landwise.sheets.lifepage import life_page, service_says
from landwise.sheets.look import VERDICT_LOOKS
from landwise.sheets.pictures import window_of
from landwise.sheets.servicepage import service_page
from landwise.sheets.sourcelist import used_sources
from landwise.untyped import Fields
from landwise.version import DATA_DATE, __version__

MOST_RATED = 8  # options whose rates a part's page lists
SUPPORT = (
    "These results support a decision. They do not replace qualification of the product, the assembler's own"
    " capability data, or licensed practice where people depend on the board."
)
FUMES = (
    "Solder, flux fumes and lead want the usual care: ventilation, clean hands, lead-free where the law asks for it."
)
CAUTIONS = (
    SUPPORT,
    (
        "Clearances here are those of a generic board-design standard. Safety standards and local codes override them;"
        " circuits on mains want licensed practice."
    ),
    FUMES,
    "Plastic packages take up moisture: keep the floor life of their label, and bake them when it is over.",
    "Package availability is recalled from the trade's catalogues: ask for the part number before you plan on it.",
)


# What the trade says is foil-rule-practice; what comes out here is the area ratio.
FOIL_RULE = (
    "The trade says that below about 0.35 mm pitch an ordinary foil deposits too much, and calls for 80 µm. The area"
    " ratio puts the change at the same pitches, but for the opposite reason: through a thick foil narrow apertures"
    " keep their paste, and joints starve. Slump and offset are what bridge neighbours; the slump criterion stands"
    " beside the area ratio under each part. It scales with the deposit's width, so it names no pitch either. Nothing"
    " here reproduces the trade's wording; a thinner foil serves both sides."
)


Content = Fields  # what the templates read


def content_of(result: BoardResult) -> Content:
    """Everything the report says, as plain data for the page's and the PDF's templates."""
    return {
        "board": result.content.board.name,
        "headline": headline(result),
        "sure": sure_lines(result),
        "hangs": hangs_on(result),
        "binding": list(board_cautions(result.parts, result.content)),
        "asked": list(asked(result)),
        "line": _line_rows(result.judged),
        "totals": totals_rows(result.before, result.after, result.content.costs.unit),
        "parts": [_part(part, result) for part in result.parts],
        "notes": notes_say(result.notes),
        "whole": board_page(result),
        "grouping": grouping_page(result),
        "scenarios": scenarios_page(result),
        "life": life_page(result.judged),
        "service": service_page(result.judged),
        "rates": [
            {
                "name": r.name.replace("_", " "),
                "value": significant(r.value),
                "range": f"{significant(r.low)}…{significant(r.high)}" if r.low < r.high else "",
                "unit": r.unit,
                "mark": "assumption" if r.assumed else "stated",
                "reason": r.reason,
            }
            for r in result.rates.values()
        ],
        "weights": [
            {"title": c.title, "weight": f"{result.weights[c.name]:.2f}", "rule": c.rule, "reason": c.reason}
            for c in CRITERIA.values()
        ],
        "cautions": list(CAUTIONS),
        "foil_rule": FOIL_RULE,
        "sources": [{"title": one.title, "where": one.where, "mark": one.mark} for one in used_sources(result)],
        "signs": {word: look.sign for word, look in VERDICT_LOOKS.items()},
        "version": __version__,
        "data_date": DATA_DATE,
        "money": result.content.costs.unit,
    }


def sure_lines(result: BoardResult) -> list[str]:
    """How sure the answer is: for the board, and for every part that is not simply decided."""
    answer = result.choice.answer if result.choice else None
    if answer is None:
        return []
    unit = result.content.costs.unit
    shown = {part.part.refs[0]: part for part in result.parts}
    return [
        board_sure(result),
        *(
            f"{shown[one.part].named}: {sure_line(one, shown[one.part], unit)}"
            for one in answer.parts
            if one.kind != "decided" and one.part in shown
        ),
    ]


def headline(result: BoardResult) -> str:
    """What to do, in a sentence or two."""
    moves = [p for p in result.parts if p.chosen and p.present and p.chosen is not p.present]
    stays = [p for p in result.parts if p.chosen and p.chosen is p.present]
    stuck = [p for p in result.parts if p.chosen is None]
    bits = []
    if board_cautions(result.parts, result.content):
        bits.append("Not to be built before the cautions below are settled.")
    if result.choice is not None and not result.choice.best.found:
        bits.append(f"{result.choice.proof[0].upper()}{result.choice.proof[1:]}. Each part by itself:")
    if moves:
        ways = (f"{_refs(p)} from {p.present.name} to {p.chosen.name}" for p in moves if p.present and p.chosen)
        bits.append(f"Change {'; '.join(ways)}.")
    if stays:
        bits.append("Keep " + ", ".join(f"{_refs(p)} in {p.present.name}" for p in stays if p.present) + ".")
    if stuck:
        bits.append(f"No package fits the limits for {', '.join(_refs(p) for p in stuck)}.")
    return " ".join([*bits, area_sentence(result)]).rstrip()


def area_sentence(result: BoardResult) -> str:
    """What becomes of the board area; empty where it is not known."""
    if not (result.before and result.after and result.before.area_mm2 > 0):
        return ""
    was, then = result.before.area_mm2, result.after.area_mm2
    return (
        f"Board area of these parts goes from {was:.0f} to {then:.0f} mm²"
        f" ({abs(was - then) / was:.0%} {'less' if was >= then else 'more'})."
    )


def _refs(part: PartResult) -> str:
    refs = part.part.refs
    return ", ".join(refs) if len(refs) <= 4 else f"{refs[0]}, {refs[1]} and {len(refs) - 2} more"


def _line_rows(result: StudyResult) -> list[tuple[str, str]]:
    line, content = result.line, result.content
    return [
        ("line", f"{line.name}: {line.says}"),
        ("foil", f"{line.foil_um:g} µm, {line.technology}; on hand {', '.join(f'{um:g}' for um in line.foils_um)} µm"),
        ("steps in the foil", "allowed" if line.steps_allowed else "not allowed"),
        ("powder", line.powder),
        ("least pitch", f"{line.least_pitch_mm:g} mm for rows, {line.least_ball_pitch_mm:g} mm for grids"),
        ("inspection", " and ".join(line.inspection)),
        (
            "board",
            f"{content.board.layers} layers, track and gap {content.board.track:g} and {content.board.space:g} mm",
        ),
        ("voltage", f"{content.use.voltage:g} V between neighbours"),
        ("run", f"{content.costs.run} boards"),
    ]


def totals_rows(before: BoardTotals | None, after: BoardTotals | None, unit: str) -> list[tuple[str, str, str]]:
    """What the board adds up to: what, today, after."""
    if before is None or after is None:
        return []
    prices = "" if after.prices_known else " (some part prices guessed)"
    return [
        ("board area of the parts, mm²", f"{before.area_mm2:.0f}", f"{after.area_mm2:.0f}"),
        (f"cost on one good board, {unit}{prices}", significant(before.cost), significant(after.cost)),
        ("placements by machine", str(before.placements), str(after.placements)),
        ("drilled leads", str(before.holes), str(after.holes)),
        ("joints under bodies", str(before.hidden_joints), str(after.hidden_joints)),
        ("different outlines", str(before.outlines), str(after.outlines)),
        ("least pitch, mm", f"{before.least_pitch_mm:g}", f"{after.least_pitch_mm:g}"),
        ("foil and inspection", before.foil_demand, after.foil_demand),
        *_defect_rows(before, after),
    ]


def _defect_rows(before: BoardTotals, after: BoardTotals) -> list[tuple[str, str, str]]:
    """What assembly expects; the ratio of the two columns is better known than either."""

    def shown(value: float | None, share: bool = False) -> str:
        return "–" if value is None else f"{value:.2%}" if share else significant(value, 2)

    return [
        ("expected defects on a board (printed parts, worked causes)", shown(before.defects), shown(after.defects)),
        ("of them not seen from above", shown(before.hidden_defects), shown(after.hidden_defects)),
        ("boards without a defect at first pass", shown(before.first_pass, True), shown(after.first_pass, True)),
        ("defects per million opportunities", shown(before.dpmo), shown(after.dpmo)),
    ]


def _part(part: PartResult, result: BoardResult) -> Fields:
    chosen = part.chosen
    answers = result.choice.answer.parts if result.choice and result.choice.answer else ()
    answer = next((one for one in answers if one.part == part.part.refs[0]), None)
    unit = result.content.costs.unit
    return {
        "name": _refs(part),
        "title": title_of(part),
        "says": part.says,
        "runner_up": part.runner_up,
        "present": part.present.name if part.present else "not known",
        "chosen": chosen.name if chosen else "none fits",
        "saved": area_text(chosen, part.present) if chosen else "–",
        "verdict": _verdict(chosen),
        "kind": answer.kind if answer else "",
        "sure": sure_line(answer, part, unit) if answer else part.runner_up,
        "options": [_option(option, part, answer.options if answer else ()) for option in in_order(part)],
        "differs": _differs(part),
        "out": _out(part),
        "foils": [um for um, _ in chosen.geometry.window.verdicts] if chosen else [],
        "figures": [_figure(figure) for figure in driving_first(chosen.figures.values())] if chosen else [],
        "notes": notes_say(part.notes),
        "guesses": list(part.part.guesses),
        "two_sides": _two_sides(chosen, result.judged),
        "rates": _rates(part),
        "print": print_lines(chosen.geometry) if chosen else [],
        "service": service_says(chosen)[:1] if chosen else [],
    }


def _differs(part: PartResult) -> Fields:
    found = differences(part)
    return {
        "names": list(found.names),
        "lines": [
            {"title": title, "cells": [{"text": cell.text, "word": cell.word} for cell in cells]}
            for title, cells in found.rows
        ],
        "more": found.more,
        "alike": [{"word": word, "count": count, "told": told} for word, count, told in found.alike],
    }


def _rates(part: PartResult) -> Fields:
    """How often the joints of the options go wrong: the choice first, the one in use always among them."""
    found = rate_table(part)
    first = [option.name for option in (part.chosen, part.present) if option is not None]
    feasible = [option.name for option in part.options if option.feasible]
    names = [name for name in dict.fromkeys((*first, *feasible)) if name in found.by_name][:MOST_RATED]
    kept = replace(found, rows=tuple(found.by_name[name] for name in names))
    return {
        "reference": found.reference + (" in use" if found.in_use else ""),
        "rows": [{"name": row.name, "rates": list(row.rates), "against": list(row.against)} for row in kept.rows],
        "more": sum(name in found.by_name for name in feasible if name not in names),
        "left_out": list(kept.left_out),
    }


def in_order(part: PartResult) -> list[OptionResult]:
    """Options as a page lists them: the choice, then what comes next, then what is out."""
    return sorted(part.options, key=lambda option: (option is not part.chosen, not option.feasible))


def more_text(option: OptionResult, part: PartResult, alike: Sequence[str] = ()) -> str:
    """What the board costs more than with the choice, on average over the joint draws.

    An option told as equal says so, since today's package stays the choice even where an equal costs less on average.

    Parameters
    ----------
    option : OptionResult
    part : PartResult
    alike : sequence of str
        The names that the answer tells as equal.
    """
    standing, chosen = part.standing, part.chosen
    if standing is None or chosen is None or option.name not in standing.more:
        return "–"
    more = standing.more[option.name] - standing.more.get(chosen.name, 0.0)
    if option is chosen:
        return "0"
    told = f"{significant(-more, 2)} less" if more < 0 else f"+{significant(more, 2)}"
    return f"equal, {told}" if option.name in alike else told


def driving_first(figures: Iterable[Figure]) -> list[Figure]:
    """Figures in the order in which they matter: what fails, what is marginal or not known, then nearest the limit.

    Examples
    --------
    >>> from landwise.evidence.figures import figure
    >>> from landwise.evidence.trails import stated, taken
    >>> near = figure(taken("a", stated(9.0, "a")), key="a", title="a", better="less", limit=10.0, verdict="holds")
    >>> far = figure(taken("b", stated(1.0, "b")), key="b", title="b", better="less", limit=10.0, verdict="holds")
    >>> [f.key for f in driving_first([far, near, Figure(key="c", title="c", verdict="marginal")])]
    ['c', 'a', 'b']
    """
    order = ("fails", "marginal", "not known", "holds")

    def nearness(figure: Figure) -> float:
        if figure.margin is None or not figure.limit:
            return math.inf
        return abs(figure.margin / figure.limit)

    return sorted(figures, key=lambda figure: (order.index(figure.verdict), nearness(figure)))


def _out(part: PartResult) -> list[str]:
    """Rejected options by the limit that keeps them out."""
    by: dict[str, list[str]] = {}
    for option in part.options:
        if option.rejections:
            by.setdefault(limit_says(option.rejections[0].limit), []).append(option.name)
    return [f"{limit}: {', '.join(names)}" for limit, names in by.items()]


def _verdict(option: OptionResult | None) -> dict[str, str]:
    look = VERDICT_LOOKS[verdict_of(option) if option else "not known"]
    return {"word": look.word, "sign": look.sign}


def _option(option: OptionResult, part: PartResult, alike: Sequence[str]) -> dict[str, object]:
    transfer = option.figures["transfer"]
    return {
        "name": option.name,
        "role": "choice" if option is part.chosen else "in use" if option is part.present else "",
        "feasible": option.feasible,
        "verdict": _verdict(option),
        "area": significant(option.area_mm2),
        "height": f"{option.geometry.outline.height_mm.max:g}",
        "pitch": f"{option.geometry.outline.pitch_mm:g}",
        "ratio": "–" if option.figures["area-ratio"].value is None else f"{option.figures['area-ratio'].value:.2f}",
        "transfer": (
            "–"
            if transfer.value is None
            else f"{transfer.value:.0%} ({transfer.low or 0:.0%}…{transfer.high or 0:.0%})"
        ),
        "foils": [
            {"um": f"{um:g}", "sign": VERDICT_LOOKS[v].sign, "word": v}
            for um, v in option.geometry.window.verdicts
            if option.geometry.printed.apertures
        ],
        "gap": f"{option.figures['gap'].value or 0:.2f}",
        "seen": f"{option.figures['seen'].value or 0:.0%}",
        "cost": significant(option.cost.total),
        "price": "–" if option.price is None else significant(option.price),
        "more": more_text(option, part, alike),
        "why": why_of(option) if option.rejections else "; ".join(row_marks(option, part)),
    }


def _figure(figure: Figure) -> dict[str, str]:
    word = word_of(figure)
    return {
        "title": figure.title,
        "text": figure.text().removesuffix("\u2009money"),
        "word": VERDICT_LOOKS[word].word if word else "",
        "sign": VERDICT_LOOKS[word].sign if word else "",
        "why": figure.why,
    }


def _whose(option: OptionResult) -> str:
    """What of the line's own data the map holds, and what it can't."""
    rates = option.geometry.rates
    if rates is not None and rates.own is not None:
        return "; the map is the model's: the rates that your line counts hold for the print it counted"
    held = deposits(rates) if rates is not None else ""
    return f"; {held}" if held else ""


def _two_sides(option: OptionResult | None, result: StudyResult) -> list[str]:
    if option is None or not option.geometry.printed.deposits:
        return []
    found = [f"too little: {option.figures['area-ratio'].why}"]
    if option.geometry.bridging:
        found.append(f"too much: {option.figures['slump-gap'].why}")
    window = window_of(option.geometry, result.line, result.content)
    if window is not None:
        found.append(
            f"process window: {window.says}; apertures are those of the lands, a maker's own are not on the map"
            f"{_whose(option)}"
        )
    return found
