"""A whole study part by part: every option of every part judged and ranked."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from landwise.costs.prices import FAR_OFF, scale_of
from landwise.errors import InputError, LandwiseError
from landwise.judging.bench import Bench
from landwise.judging.notes import Note, NoteKey
from landwise.judging.part import judge_part
from landwise.judging.results import PartResult, StudyResult
from landwise.judging.totals import totals
from landwise.study.file import OptionTable, Study


def run_study(
    study: Study,
    *,
    progress: Callable[[int, int, str], None] | None = None,
    bench: Bench | None = None,
    stop: Callable[[], bool] | None = None,
) -> StudyResult:
    """Judge every option of every part, rank them, and total the board before and after.

    Parameters
    ----------
    study : Study
        From `read_study` or `study_from`.
    progress : callable, optional
        Called with (parts done, parts in all, part's name).
    bench : Bench, optional
        Of the same study, by a caller that keeps what was worked before; a new one otherwise.
    stop : callable, optional
        Asked before each part but the first: once true, the others are judged in the package in use alone and stay in
        it; those whose package is not known are left out. A note names them.

    Raises
    ------
    LandwiseError
        For anything in the study that can't be worked, naming the part.

    Examples
    --------
    >>> from landwise.study.file import study_from
    >>> study = study_from({"part": [{"refs": ["U1"], "function": "quad 2-input NAND gate", "terminals": 14,
    ...                                "family": "HC", "package": "SO-14"}]})
    >>> result = run_study(study)
    >>> result.parts[0].present.name
    'SO-14'
    """
    content = study.content
    if not content.part:
        raise InputError("the study has no parts", file=study.file, expected="at least one [[part]]")
    try:
        bench = bench or Bench.of(study)
    except LandwiseError as error:
        raise error.within(file=study.file) from None
    results: list[PartResult] = []
    kept: list[str] = []
    for number, part in enumerate(content.part):
        if results and stop is not None and stop():
            kept.append(part.refs[0])
            if not part.package:
                continue
            part = part.model_copy(update={"options": [OptionTable(outline=part.package)], "locked": True})
        if progress:
            progress(number, len(content.part), part.refs[0])
        try:
            results.append(judge_part(part, bench))
        except LandwiseError as error:
            raise error.within(file=study.file, place=f"part {part.refs[0]}") from None
    if progress:
        progress(len(content.part), len(content.part), "")
    known = [
        result for result in results if result.present is not None and result.chosen is not None and result.part.fitted
    ]
    before = totals([(r.present, r.count) for r in known if r.present], bench) if known else None
    after = totals([(r.chosen, r.count) for r in known if r.chosen], bench) if known else None
    notes = _notes(results, bench)
    if kept:
        # What was left out is not part of the study that was worked.
        content = content.model_copy(update={"part": [result.part for result in results]})
        study = replace(study, content=content)
        notes = (Note(key=NoteKey.NOT_JUDGED, names=tuple(kept)), *notes)
    return StudyResult(study, bench.line, bench.rates, bench.weights, tuple(results), before, after, notes)


def _money_notes(results: Sequence[PartResult], bench: Bench) -> list[Note]:
    """Whether stated prices and shipped rates are in the same money."""
    costs = bench.content.costs
    stated = [
        (option.geometry.outline, option.price)
        for result in results
        for option in result.options
        if option.price is not None
    ]
    scale = scale_of(stated, costs.rate_factor)
    if scale is not None and not 1 / FAR_OFF < scale < FAR_OFF:
        return [Note(key=NoteKey.PRICES_FAR_OFF, number=scale, of=costs.unit)]
    if costs.unit.lower() not in DOLLARS and costs.rate_factor == 1.0 and any(r.assumed for r in bench.rates.values()):
        return [Note(key=NoteKey.OTHER_MONEY, of=costs.unit)]
    return []


# Units in which a factor of one lies within the rates' bands.
DOLLARS = frozenset(
    ["units", "", "usd", "$", "us$", "dollar", "dollars", "eur", "€", "euro", "euros", "gbp", "£", "chf"]
)


def _notes(results: Sequence[PartResult], bench: Bench) -> tuple[Note, ...]:
    notes = []
    unknown = [result.part.refs[0] for result in results if result.present is None]
    if unknown:
        notes.append(Note(key=NoteKey.PRESENT_UNKNOWN, names=tuple(unknown)))
    stuck = [result.part.refs[0] for result in results if result.chosen is None]
    if stuck:
        notes.append(Note(key=NoteKey.NOTHING_FITS, names=tuple(stuck)))
    assumed = [name for name, rate in bench.rates.items() if rate.assumed and rate.value > 0]
    if assumed:
        notes.append(Note(key=NoteKey.RATES_ASSUMED, names=tuple(assumed)))
    notes += _money_notes(results, bench)
    board = bench.content.board
    if any(one.rate != 1 for one in board.classes) and (board.length is None or board.width is None):
        notes.append(Note(key=NoteKey.CLASS_BY_COURTYARDS))
    changed = {
        result.chosen.name
        for result in results
        if result.chosen and result.present and result.chosen.name != result.present.name
    }
    if changed:
        notes.append(Note(key=NoteKey.NOT_TOGETHER))
    return tuple(notes)
