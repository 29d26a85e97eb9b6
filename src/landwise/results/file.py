"""`result.json`: a study's outcome as plain data with a documented schema, and `options.csv`.

The schema ships as `schemas/result.schema.json`; it is generated from the models below, and a test compares
the two. Numbers are in the units their figures name; money is in the study's own unit.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator
from typing import Any

from pydantic import Field

from landwise.board.result import BoardResult, board_result
from landwise.errors import InputError
from landwise.evidence.sources import all_sources
from landwise.evidence.trails import Origin
from landwise.judging.lifetime import asked_of
from landwise.judging.results import BoardTotals, OptionResult, PartResult, StudyResult
from landwise.results.answer import AnswerJson, answer_data
from landwise.results.choice import choice_data
from landwise.results.choicejson import ChoiceJson
from landwise.results.limitwords import limit_says
from landwise.results.notewords import notes_say
from landwise.results.strict import Strict
from landwise.results.told import board_cautions, cautions
from landwise.results.trails import figures_data
from landwise.study.file import StudyFile

SCHEMA_VERSION = 1


class GivenJson(Strict):
    """One input of a step, and where it comes from."""

    value: float | str | bool | None = Field(default=None, description="null where it has no number or name")
    unit: str = ""
    origin: str = Field(description="stated, default, chosen, drawing, rule, simulation, or step")
    place: str = Field(default="", description="field of the study, drawing, rule; of an earlier step its key")
    reason: str = ""
    sources: list[str] = Field(default_factory=list)


class StepJson(Strict):
    """One link of a trail."""

    key: str = Field(default="", description="unique within its option")
    says: str
    inputs: dict[str, str]
    value: float | None
    unit: str
    low: float | None = Field(default=None, description="lower end of the 90 % interval, where it has one")
    high: float | None = None
    formula: str | None = Field(description="key in the formula book, if it is an entry there")
    by: str = Field(default="", description="the function that gives the value; empty for a remark")
    given: dict[str, GivenJson] = Field(default_factory=dict, description="its inputs")
    valid: str
    sources: list[str] = Field(description="keys of the table `sources`")


class FigureJson(Strict):
    """One judged number."""

    key: str
    title: str
    value: float | None
    unit: str
    low: float | None = Field(description="lower end of the 90 % interval")
    high: float | None
    better: str
    limit: float | None
    limit_source: str
    margin: float | None
    verdict: str
    why: str
    trail: list[StepJson]


class RejectionJson(Strict):
    """A hard limit that an option breaks."""

    key: str = Field(default="", description="of the limit")
    limit: str = Field(description="in words")
    says: str


class SupplyJson(Strict):
    """How the function stands in the package: what was stated, sighted or judged from like functions."""

    state: str = Field(description="stated | seen | likely | not seen | not known")
    sightings: int
    sources: int
    share: float | None
    compared: int


class PriceJson(Strict):
    """Price of one piece, quoted or guessed with the band that holds 90 %."""

    median: float
    low: float
    high: float
    basis: str = Field(description="stated | offer | prior | assumed")
    pairs: int = Field(description="compared parts behind a guessed one")
    against: str
    source: str
    level_sd: float = Field(description="spread of an assumed level's logarithm, shared by all packages of a part")


class CautionJson(Strict):
    """What must be told of an option before anything else."""

    key: str
    figure: str
    binds: bool = Field(description="no output may leave it out")
    value: float | None
    limit: float | None
    unit: str
    standard: str = Field(description="what to turn to")
    source: str
    text: str


class OptionJson(Strict):
    """One package option of one part."""

    outline: str
    feasible: bool
    rejections: list[RejectionJson]
    supply: SupplyJson
    price: float | None = Field(description="of one piece at the pieces bought; null where nobody quoted it")
    priced: PriceJson
    makers: int | None = Field(description="makers that offer it, where the study or its offers count them")
    drop_in: str = Field(description="same part | same lands | same terminals | empty")
    also_takes: list[str] = Field(description="other packages that its lands take")
    choice_worth: float = Field(description="worth per piece of buying the cheaper of those that its lands take")
    cost: float
    area_mm2: float
    land_style: str
    verdict: str = Field(description="of the print")
    foil_demand: str
    more: float | None = Field(description="what the board costs more on average than with the first; null if out")
    more_low: float | None = Field(description="5 % end of that difference")
    more_high: float | None = Field(description="95 % end of that difference")
    wins: float | None = Field(description="share of joint draws in which it is the cheapest")
    cautions: list[CautionJson] = Field(default_factory=list, description="most serious first")
    figures: list[FigureJson]
    steps: dict[str, StepJson] = Field(default_factory=dict, description="what trails go back to and share")


class PartJson(Strict):
    """One part."""

    refs: list[str]
    number: str
    family: str
    function: str
    terminals: int
    present: str | None
    chosen: str | None
    says: str
    runner_up: str
    notes: list[str]
    note_keys: list[str] = Field(default_factory=list, description="what each note is about")
    guesses: list[str]
    options: list[OptionJson]


class TotalsJson(Strict):
    """Board sums."""

    parts: int
    area_mm2: float
    cost: float
    placements: int
    holes: int
    hidden_joints: int
    outlines: int
    least_pitch_mm: float
    foil_demand: str
    prices_known: bool
    defects: float | None = Field(default=None, description="expected on one board, drilled parts left out")
    hidden_defects: float | None = Field(default=None, description="of them, what can't be seen from above")
    first_pass: float | None = Field(default=None, description="share of boards without a defect")
    dpmo: float | None = Field(default=None, description="per million parts, placements and joints")


class SourceJson(Strict):
    """One source that a trail names."""

    title: str
    where: str
    mark: str


class ResultJson(Strict):
    """The whole result."""

    landwise_result: int = Field(description="version of this schema")
    version: str = Field(description="version of landwise that wrote it")
    board: str
    money: str
    line: dict[str, Any]
    weights: dict[str, float]
    rates: dict[str, Any]
    before: TotalsJson | None
    after: TotalsJson | None
    cautions: list[str] = Field(default_factory=list, description="of the chosen packages: what binds")
    asked: list[str] = Field(default_factory=list, description="what is assumed of its place, or contradicts itself")
    answer: AnswerJson | None = Field(default=None, description="decided, equal or not decided, and what it hangs on")
    notes: list[str]
    note_keys: list[str] = Field(default_factory=list, description="what each note is about")
    parts: list[PartJson]
    choice: ChoiceJson | None = Field(default=None, description="the whole board chosen at once; null with --each")
    steps: dict[str, StepJson] = Field(default_factory=dict, description="what trails of all options go back to")
    sources: dict[str, SourceJson]


def _of_all(parts: Iterable[dict[str, Any]]) -> dict[str, Any]:
    """Steps that are the same for every option that has them, taken out so that they stand in the result once."""
    options = [option for part in parts for option in part["options"]]
    whole: dict[str, Any] = {}
    for option in options:
        for key, step in option["steps"].items():
            whole[key] = step if whole.get(key, step) == step else None
    whole = _closed({key: step for key, step in whole.items() if step is not None})
    for option in options:
        option["steps"] = {key: step for key, step in option["steps"].items() if key not in whole}
    return whole


def _closed(steps: dict[str, Any]) -> dict[str, Any]:
    """Those that go back to none but each other."""
    kept = {
        key: step
        for key, step in steps.items()
        if all(one["origin"] != Origin.STEP or one["place"] in steps for one in step.get("given", {}).values())
    }
    return kept if len(kept) == len(steps) else _closed(kept)


def _sources_of(parts: Iterable[dict[str, Any]], whole: dict[str, Any]) -> Iterator[str]:
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


def result_data(result: StudyResult | BoardResult) -> dict[str, Any]:
    """A study's outcome as plain data that `ResultJson` accepts."""
    result = board_result(result)
    parts = [_part(part, result.content) for part in result.parts]
    whole = _of_all(parts)
    used = set(_sources_of(parts, whole))
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
        "asked": list(asked_of(result.content)),
        "answer": answer_data(result),
        "notes": notes_say(result.notes),
        "note_keys": [note.key.value for note in result.notes],
        "parts": parts,
        "choice": choice_data(result.choice) if result.choice else None,
        "steps": whole,
        "sources": {
            key: {"title": known[key].title, "where": known[key].where, "mark": known[key].mark}
            for key in sorted(used)
            if key in known
        },
    }


def _totals(totals: BoardTotals | None) -> dict[str, Any] | None:
    return None if totals is None else dict(vars(totals))


def _part(result: PartResult, content: StudyFile) -> dict[str, Any]:
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
        "options": [_option(option, result, content) for option in result.options],
    }


def _option(option: OptionResult, result: PartResult, content: StudyFile) -> dict[str, Any]:
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
        "verdict": option.geometry.printed.verdict,
        "foil_demand": option.geometry.demand.says,
        "more": standing.more.get(option.name) if standing else None,
        "more_low": standing.low.get(option.name) if standing else None,
        "more_high": standing.high.get(option.name) if standing else None,
        "wins": standing.wins.get(option.name) if standing else None,
        "cautions": [caution.as_json() for caution in cautions(option, content)],
        "figures": figures,
        "steps": steps,
    }


def result_text(result: StudyResult | BoardResult) -> str:
    """`result.json` as text, checked against the schema's own models."""
    data = result_data(result)
    ResultJson.model_validate(data)
    return json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def result_schema() -> dict[str, Any]:
    """JSON Schema of `result.json`."""
    return ResultJson.model_json_schema()


def options_csv(result: StudyResult | BoardResult) -> str:
    """One row an option, for a spreadsheet: rank, verdicts, main figures, cost."""
    keys = ("area", "height", "pitch", "area-ratio", "transfer", "foil", "opening", "gap", "seen", "reach", "cost")
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    units = {f.key: f.unit for part in result.parts for option in part.options for f in option.figures.values()}
    columns = [f"{key} [{units[key]}]" if units.get(key) else key for key in keys]
    writer.writerow(
        [
            "refs",
            "function",
            "rank",
            "outline",
            "feasible",
            "chosen",
            "present",
            "more",
            "wins",
            "supply",
            *columns,
            "rejections",
        ]
    )
    for part in result.parts:
        for rank, option in enumerate(part.options, start=1):
            figures = [option.figures[key].value for key in keys]
            standing = part.standing
            writer.writerow(
                [
                    " ".join(part.part.refs),
                    part.part.function,
                    rank if option.feasible else "",
                    option.name,
                    "yes" if option.feasible else "no",
                    "yes" if part.chosen is option else "",
                    "yes" if part.present is option else "",
                    _short(standing.more.get(option.name) if standing else None),
                    _short(standing.wins.get(option.name) if standing else None),
                    option.supply.state,
                    *(_short(value) for value in figures),
                    "; ".join(r.says for r in option.rejections),
                ]
            )
    return out.getvalue()


def _short(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"


def read_result(text: str, *, file: str) -> ResultJson:
    """A `result.json` read back.

    Raises
    ------
    InputError
        If it is no result of this schema.
    """
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
