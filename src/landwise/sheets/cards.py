"""From a judged part to its comparison card."""

from __future__ import annotations

from dataclasses import fields, replace

from landwise.content import mark_of
from landwise.designing.words import short_binding
from landwise.evidence.figures import Figure
from landwise.fabdata.partnumbers import written_number
from landwise.judging.results import OptionResult, PartResult, StudyResult
from landwise.memory import known
from landwise.quantities import significant
from landwise.results.limitwords import limit_says
from landwise.results.ratetable import RateTable, against_lines, rate_table
from landwise.results.rowmarks import taken_with
from landwise.results.told import must_tell
from landwise.results.verdict import short_of, verdict_of, word_of
from landwise.service.safety import binding, cautions_of
from landwise.sheets.card import comparison_card
from landwise.sheets.cardlayout import Against, Candidate
from landwise.sheets.solder import part_solder
from landwise.version import DATA_DATE, __version__

DRAWN = ("outline", "pattern", "print_", "solder")  # of a candidate: all of them follow from its geometry
TOLD = tuple(one.name for one in fields(Candidate) if one.name not in DRAWN)
SHOWN = ("transfer", "gap", "pitch", "seen", "cost")


def card_of(part: PartResult, result: StudyResult, prefix: str = "card") -> str:
    """The card of one part as SVG: its feasible options, then the rejected ones, and the one in use.

    Made once for the same words and drawings: laying it out takes longer than all else about it.
    """
    rates = rate_table(part)
    candidates = [_with_print(candidate_of(option, part, result), option, rates) for option in part.options]
    title = title_of(part)
    texts = (
        f"Which package should {part.part.refs[0]} come in, on a line with a {result.line.foil_um:g} µm foil?",
        part.says,
        part.runner_up,
        " ".join(text for text in (_left_out(rates), footer_of(part, result)) if text),
    )
    question, *sentences = texts
    told = [[getattr(one, name) for name in TOLD] for one in candidates]
    drawn = [option.geometry.mark for option in part.options]
    return known(
        lambda: comparison_card(title, question, candidates, *sentences, prefix=prefix),
        "comparison card",
        mark_of(title, texts, told, drawn, prefix),
    )


def _with_print(candidate: Candidate, option: OptionResult, rates: RateTable) -> Candidate:
    """A candidate with what binds its print beside its verdict, and its ratios of defects."""
    binds = "" if option.rejections else print_binds(option)
    lines = against_lines(rates.by_name.get(option.name))
    against = Against(rates.head, lines) if len(rates.rows) > 1 else None
    return replace(candidate, why=f"{candidate.why}; {binds}" if binds else candidate.why, against=against)


def _left_out(rates: RateTable) -> str:
    """What the ratios on a card leave out; empty where it tells none."""
    if len(rates.rows) < 2:
        return ""
    return f"Defects with 90 % intervals; {rates.left_out_of_all}."


def title_of(part: PartResult) -> str:
    """Function and terminals, for headings."""
    written = written_number(part.part.family, part.part.number)
    number = f"{written}, " if written else ""
    return f"{number}{part.part.function or 'part'}, {part.terminals} terminals"


def footer_of(part: PartResult, result: StudyResult) -> str:
    """The assumptions that matter, the date of the data and the version."""
    told = (
        "".join(f"CAUTION: {caution.text}. " for caution in must_tell(part.chosen, result.content))
        if part.chosen
        else ""
    )
    prices = (
        "part prices included" if part.chosen and part.chosen.cost.price_known else "part prices guessed, with a band"
    )
    return (
        f"{told}Line {result.line.name!r}, {result.line.technology} foil, {result.line.powder} powder; run of"
        f" {result.content.costs.run}; {prices}; cost rates are assumptions unless stated. Data of {DATA_DATE},"
        f" landwise {__version__}. Supports a decision; does not replace qualification or the assembler's own data."
    )


def candidate_of(option: OptionResult, part: PartResult, result: StudyResult) -> Candidate:
    """One option as the card shows it."""
    geometry = option.geometry
    return Candidate(
        outline=geometry.outline,
        pattern=geometry.pattern,
        print_=geometry.printed if geometry.printed.apertures else None,
        figures=tuple(
            (figure_title(option.figures[key], result), figure_text(option.figures[key]), word_of(option.figures[key]))
            for key in SHOWN
        ),
        verdict=verdict_of(option),
        why="; ".join((*taken_with(option, part), why_of(option))),
        area_text=area_text(option, part.present),
        is_choice=option is part.chosen,
        is_present=option is part.present,
        solder=part_solder(geometry.outline, geometry.stand, geometry.mounted),
    )


def why_of(option: OptionResult) -> str:
    """One sentence behind an option's verdict."""
    if option.rejections:
        more = f", and {len(option.rejections) - 1} more" if len(option.rejections) > 1 else ""
        return f"out by {limit_says(option.rejections[0].limit)}: {option.rejections[0].says}{more}"
    told = binding(cautions_of(option.figures))
    if told:
        return "; ".join(f"caution: {one.short}" for one in told)
    verdict = verdict_of(option)
    if verdict != option.geometry.printed.verdict:
        return next(one.says for one in short_of(option) if one.verdict == verdict)
    if option.geometry.printed.verdict == "marginal":
        powder = option.figures["opening"]
        return option.geometry.printed.why if option.figures["transfer"].verdict == "marginal" else powder.why
    if option.geometry.outline.drilled:
        return "soldered through the board; nothing is printed"
    return f"every land releases on {option.geometry.printed.foil.thickness_um:g} µm"


def print_binds(option: OptionResult) -> str:
    """What binds a designed print, in a few words; empty where none is designed."""
    design, reasons = option.geometry.design, option.geometry.reasons
    if design is None or reasons is None or not design.designed:
        return ""
    return f"its print is bound by {', '.join(dict.fromkeys(short_binding(one) for one in reasons.binds[:2]))}"


def area_text(option: OptionResult, present: OptionResult | None) -> str:
    """Area, and what it saves against the part in use."""
    text = f"{significant(option.area_mm2)}\u2009mm²"
    if present is None or present is option:
        return text
    share = 1 - option.area_mm2 / present.area_mm2
    return text + (f", saves {share:.0%}" if share >= 0 else f", takes {-share:.0%} more")


def figure_title(figure: Figure, result: StudyResult) -> str:
    """A figure's title, with the study's money unit where it is money."""
    return f"{figure.title}, {result.content.costs.unit}" if figure.key == "cost" else figure.title


def figure_text(figure: Figure) -> str:
    """A figure's value as the card prints it."""
    if figure.value is None:
        return "–"
    if figure.key == "transfer" and figure.low is not None and figure.high is not None:
        return f"{figure.value:.0%} ({figure.low:.0%}…{min(figure.high, 9.99):.0%})"
    if figure.key == "seen":
        return f"{figure.value:.0%}"
    if figure.key == "cost":
        return f"{significant(figure.value)} ({significant(figure.low or 0)}…{significant(figure.high or 0)})"
    return figure.text()
