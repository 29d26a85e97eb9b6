"""`result.json`: a study's outcome as plain data with a documented schema, and `options.csv`.

The schema ships as `schemas/result.schema.json`; it is generated from the models below, and a test compares
the two. Numbers are in the units their figures name; money is in the study's own unit.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import astuple
from math import isfinite
from typing import TYPE_CHECKING

from landwise.assembly.partrates import PartRates
from landwise.assembly.rare import Estimate
from landwise.board.result import BoardResult, board_result
from landwise.board.totals import board_figures
from landwise.errors import InputError
from landwise.evidence.sources import all_sources
from landwise.evidence.trails import Origin
from landwise.fabdata.tabletext import csv_text
from landwise.judging.ratewords import LEFT_OUT
from landwise.judging.ratios import Against, defects_against
from landwise.judging.results import BoardTotals, OptionResult, PartResult, StudyResult
from landwise.results.answer import answer_data
from landwise.results.choice import choice_data
from landwise.results.grouping import grouping_data
from landwise.results.jsontext import json_text
from landwise.results.limitwords import limit_says
from landwise.results.notewords import notes_say
from landwise.results.printjson import print_data
from landwise.results.scenarios import scenarios_data
from landwise.results.told import asked, board_cautions, cautions
from landwise.results.trails import figures_data, names_of
from landwise.results.verdict import verdict_of
from landwise.study.file import StudyFile
from landwise.untyped import Fields

if TYPE_CHECKING:
    from landwise.results.resultjson import ResultJson

SCHEMA_VERSION = 1


def _of_all(parts: Iterable[Fields]) -> dict[str, object]:
    """Steps that are the same for every option that has them, taken out so that they stand in the result once."""
    options = [option for part in parts for option in part["options"]]
    whole: dict[str, object] = {}
    for option in options:
        for key, step in option["steps"].items():
            whole[key] = step if whole.get(key, step) == step else None
    whole = _closed({key: step for key, step in whole.items() if step is not None})
    for option in options:
        option["steps"] = {key: step for key, step in option["steps"].items() if key not in whole}
    return whole


def _closed(steps: Fields) -> dict[str, object]:
    """Those that go back to none but each other."""
    kept = {
        key: step
        for key, step in steps.items()
        if all(one["origin"] != Origin.STEP or one["place"] in steps for one in step.get("given", {}).values())
    }
    return kept if len(kept) == len(steps) else _closed(kept)


def totals_data(result: BoardResult) -> tuple[list[dict[str, object]], dict[str, dict[str, object]]]:
    """Totals of the chosen board, and the steps that they go back to beside those of the chosen options."""
    if result.choice is None:
        return [], {}
    elsewhere: dict[int, str] = {}
    for part in result.parts:
        ref = part.part.refs[0]
        options = {f"{ref} in {part.present.name}": part.present} if part.present else {}
        for of, option in (options | ({ref: part.chosen} if part.chosen else {})).items():
            names, _ = names_of(tuple(option.figures.values()))
            elsewhere |= {step: f"{of}:{name}" for step, name in names.items()}
    return figures_data(board_figures(result.choice, result.parts), elsewhere)


def _sources_in(figures: list[Fields], steps: dict[str, Fields]) -> Iterator[str]:
    """Sources that figures, their trails and further steps name."""
    for step in (*steps.values(), *(step for figure in figures for step in figure["trail"])):
        yield from step["sources"]
        for given in step.get("given", {}).values():
            yield from given.get("sources", ())
    yield from (figure["limit_source"] for figure in figures)


def _sources_of(parts: Iterable[Fields], whole: Fields) -> Iterator[str]:
    for step in whole.values():
        yield from step["sources"]
        for given in step.get("given", {}).values():
            yield from given.get("sources", ())
    for part in parts:
        for option in part["options"]:
            steps = [*option["steps"].values(), *(step for figure in option["figures"] for step in figure["trail"])]
            for step in steps:
                yield from step["sources"]
                for given in step.get("given", {}).values():
                    yield from given.get("sources", ())
            yield from (figure["limit_source"] for figure in option["figures"])


def result_data(result: StudyResult | BoardResult) -> dict[str, object]:
    """A study's outcome as plain data that `ResultJson` accepts."""
    result = board_result(result)
    parts = [_part(part, result.content) for part in result.parts]
    whole = _of_all(parts)
    totals, behind_totals = totals_data(result)
    used = {*_sources_of(parts, whole), *_sources_in(totals, behind_totals)}
    known = all_sources()
    line = result.line
    return {
        "landwise_result": SCHEMA_VERSION,
        "version": result.version,
        "board": result.content.board.name,
        "money": result.content.costs.unit,
        "line": {
            "name": line.name,
            "foils_um": list(line.foils_um),
            "foil_um": line.foil_um,
            "technology": line.technology,
            "powder": line.powder,
            "steps_allowed": line.steps_allowed,
            "least_pitch_mm": line.least_pitch_mm,
            "least_ball_pitch_mm": line.least_ball_pitch_mm,
            "inspection": list(line.inspection),
        },
        "weights": dict(result.weights),
        "rates": {
            name: {
                "value": rate.value,
                "low": rate.low,
                "high": rate.high,
                "unit": rate.unit,
                "assumed": rate.assumed,
                "reason": rate.reason,
            }
            for name, rate in result.rates.items()
        },
        "before": _totals(result.before),
        "after": _totals(result.after),
        "cautions": list(board_cautions(result.parts, result.content)),
        "asked": list(asked(result)),
        "answer": answer_data(result),
        "notes": notes_say(result.notes),
        "note_keys": [note.key.value for note in result.notes],
        "parts": parts,
        "choice": choice_data(result.choice) if result.choice else None,
        "grouping": grouping_data(result),
        "scenarios": scenarios_data(result),
        "totals": totals,
        "steps": whole,
        "total_steps": behind_totals,
        "sources": {
            key: {"title": known[key].title, "where": known[key].where, "mark": known[key].mark}
            for key in sorted(used)
            if key in known
        },
    }


def _totals(totals: BoardTotals | None) -> Fields | None:
    return None if totals is None else dict(vars(totals))


def _part(result: PartResult, content: StudyFile) -> Fields:
    against = defects_against(result)
    return {
        "refs": list(result.part.refs),
        "number": result.part.number,
        "family": result.part.family,
        "function": result.part.function,
        "terminals": result.terminals,
        "present": result.present.name if result.present else None,
        "chosen": result.chosen.name if result.chosen else None,
        "says": result.says,
        "runner_up": result.runner_up,
        "notes": notes_say(result.notes),
        "note_keys": [note.key.value for note in result.notes],
        "guesses": list(result.part.guesses),
        "options": [_option(option, result, content, against) for option in result.options],
    }


def _against(against: Against | None) -> dict[str, object] | None:
    if against is None:
        return None
    rest = {"bridges": _ratio(against.bridges), "opens": _ratio(against.opens)}
    return {"reference": against.reference, **_ratio(against.ratio), **rest}


def _ratio(ratio: Estimate) -> dict[str, object]:
    value, low, high = (one if isfinite(one) else None for one in astuple(ratio)[:3])
    return {"value": value, "low": low, "high": high}


def _left_out(rates: PartRates | None) -> list[dict[str, object]]:
    if rates is None:
        return []
    return [
        {"key": str(way), "rate": rate, "says": LEFT_OUT[way]}
        for rate, _ in rates.left_out
        for way in rates.not_modelled(rate)
    ]


def _option(
    option: OptionResult, result: PartResult, content: StudyFile, against: Mapping[str, Against]
) -> dict[str, object]:
    standing = result.standing
    figures, steps = figures_data(option.figures.values())
    return {
        "outline": option.name,
        "feasible": option.feasible,
        "rejections": [{"key": str(r.limit), "limit": limit_says(r.limit), "says": r.says} for r in option.rejections],
        "supply": {
            "state": option.supply.state,
            "sightings": option.supply.sightings,
            "sources": option.supply.sources,
            "share": option.supply.share,
            "compared": option.supply.compared,
        },
        "price": option.price,
        "priced": dict(vars(option.priced)),
        "makers": option.makers,
        "drop_in": option.drop_in,
        "also_takes": list(option.also_takes),
        "choice_worth": option.choice_worth,
        "cost": option.cost.total,
        "area_mm2": option.area_mm2,
        "land_style": option.geometry.pattern.style,
        "verdict": verdict_of(option),
        "unshown": list(option.unshown),
        "print": print_data(option.geometry),
        "foil_demand": option.geometry.demand.says,
        "more": standing.more.get(option.name) if standing else None,
        "more_low": standing.low.get(option.name) if standing else None,
        "more_high": standing.high.get(option.name) if standing else None,
        "wins": standing.wins.get(option.name) if standing else None,
        "under": standing.under.get(option.name, "") if standing else "",
        "defects_against": _against(against.get(option.name)),
        "not_modelled": _left_out(option.geometry.rates),
        "cautions": [caution.as_json() for caution in cautions(option, content)],
        "figures": figures,
        "steps": steps,
    }


def result_text(result: StudyResult | BoardResult) -> str:
    """`result.json` as text.

    It follows the schema by construction: tests hold every result they make against the schema's own models. Checking
    it again on every run took as long as reading a kept board.
    """
    return json_text(result_data(result)) + "\n"


def result_schema() -> dict[str, object]:
    """JSON Schema of `result.json`."""
    from landwise.results.resultjson import ResultJson  # the models are read where a file is read

    return ResultJson.model_json_schema()


def options_csv(result: StudyResult | BoardResult) -> str:
    """One row an option, for a spreadsheet: rank, verdicts, main figures, cost."""
    keys = ("area", "height", "pitch", "area-ratio", "transfer", "foil", "opening", "gap", "seen", "reach", "cost")
    units = {f.key: f.unit for part in result.parts for option in part.options for f in option.figures.values()}
    columns = [f"{key} [{units[key]}]" if units.get(key) else key for key in keys]
    own = ("refs", "function", "rank", "outline", "feasible", "chosen", "present", "verdict", "more", "wins", "supply")
    rows = []
    for part in result.parts:
        for rank, option in enumerate(part.options, start=1):
            figures = [option.figures[key].value for key in keys]
            standing = part.standing
            rows.append(
                [
                    " ".join(part.part.refs),
                    part.part.function,
                    rank if option.feasible else "",
                    option.name,
                    "yes" if option.feasible else "no",
                    "yes" if part.chosen is option else "",
                    "yes" if part.present is option else "",
                    verdict_of(option),
                    _short(standing.more.get(option.name) if standing else None),
                    _short(standing.wins.get(option.name) if standing else None),
                    option.supply.state,
                    *(_short(value) for value in figures),
                    "; ".join(r.says for r in option.rejections),
                ]
            )
    return csv_text((*own, *columns, "rejections"), rows)


def _short(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"


def read_result(text: str, *, file: str) -> ResultJson:
    """A `result.json` read back.

    Raises
    ------
    InputError
        If it is no result of this schema.
    """
    from landwise.results.resultjson import ResultJson

    try:
        data = json.loads(text)
    except json.JSONDecodeError as error:
        raise InputError(
            "not a JSON file",
            file=file,
            place=f"line {error.lineno}",
            found=error.msg,
            expected="a result.json of landwise",
        ) from None
    if not isinstance(data, dict) or data.get("landwise_result") != SCHEMA_VERSION:
        found = data.get("landwise_result") if isinstance(data, dict) else type(data).__name__
        raise InputError(
            "not a result of this version", file=file, found=repr(found), expected=f"landwise_result = {SCHEMA_VERSION}"
        )
    try:
        return ResultJson.model_validate(data)
    except ValueError as error:
        first = str(error).splitlines()[1] if "\n" in str(error) else str(error)
        raise InputError(
            "the result does not follow its schema",
            file=file,
            place=first.strip(),
            expected="a file written by landwise",
        ) from None
