"""One part: what it is offered in, and its options judged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from landwise.designing import design_words
from landwise.designing.words import land_words
from landwise.errors import InputError
from landwise.fabdata.partnumbers import written_number
from landwise.judging.bench import Bench
from landwise.judging.buying import market_of, outlines_of, reel_of
from landwise.judging.dropin import choice_worth, serves
from landwise.judging.fieldcost import RATE, unanchored, with_field
from landwise.judging.limits import LimitKey
from landwise.judging.notes import Note, NoteKey
from landwise.judging.option import judge_option
from landwise.judging.results import OptionResult, PartResult
from landwise.outlines import find
from landwise.study.file import PartTable

OF_SUPPLY = frozenset({NoteKey.PRICES_UNQUOTED, NoteKey.PRICES_GUESSED, NoteKey.NOT_SEEN})
OF_CHOSEN = frozenset(
    {NoteKey.ONE_MAKER, NoteKey.ALSO_TAKES, NoteKey.SAME_LANDS, NoteKey.DESIGNED, NoteKey.LANDS_MOVED}
)


def judge_part(part: PartTable, bench: Bench) -> PartResult:
    """Judge the options of one part; until the board is chosen, the cheapest by itself stands first."""
    present_outline = find(part.package, bench.own) if part.package else None
    terminals = part.terminals or (present_outline.terminals if present_outline else None)
    if terminals is None:
        raise InputError("it is not known how many terminals the part has", expected="terminals, or the package in use")
    offered = outlines_of(part, terminals, present_outline, bench)
    judged = [judge_option(outline, part, bench) for outline in offered]
    # A cost that nobody states is nought, and then nothing is counted.
    stated = bench.rates[RATE].value > 0
    adrift = unanchored(judged) if stated else ()
    counted = stated and not adrift
    if counted:
        judged = [with_field(option, bench) for option in judged]
    present = next((option for option in judged if present_outline and option.name == present_outline.name), None)
    feasible = [option for option in judged if option.feasible]
    if feasible:
        feasible = sorted(_with_other_takers(feasible), key=lambda option: option.cost.total)
        present = next((option for option in feasible if present and option.name == present.name), present)
    rejected = sorted((option for option in judged if not option.feasible), key=lambda option: option.area_mm2)
    chosen = present if part.locked and present else (feasible[0] if feasible else None)
    return PartResult(
        part=part,
        terminals=terminals,
        options=(*feasible, *rejected),
        present=present,
        chosen=chosen,
        standing=None,
        says=_says(part, chosen, rejected),
        runner_up="",
        notes=(*_notes(part, judged, chosen, bench), *_field_notes(adrift)),
        counts_field=counted,
        pieces=market_of(part, bench).pieces,
        reel=reel_of(bench.content, part),
    )


def _field_notes(adrift: tuple[str, ...]) -> list[Note]:
    """Why a part's failures in the field are not counted."""
    return [Note(key=NoteKey.FIELD_NOT_COUNTED, names=adrift)] if adrift else []


def _with_other_takers(feasible: Sequence[OptionResult]) -> list[OptionResult]:
    """The options with what else their lands take, among those that may be planned."""
    found = []
    for option in feasible:
        others = [
            other
            for other in feasible
            if other is not option and serves(option.geometry.pattern, other.geometry.outline)
        ]
        if others:
            worth = choice_worth(option.priced, [other.priced for other in others])
            option = replace(option, also_takes=tuple(other.name for other in others), choice_worth=worth)
        found.append(option)
    return found


def _notes(
    part: PartTable, judged: Sequence[OptionResult], chosen: OptionResult | None, bench: Bench
) -> tuple[Note, ...]:
    """What the reader of the answer must know about supply and prices first."""
    notes = []
    known, guessed = market_of(part, bench).known, [option for option in judged if not option.priced.quoted]
    if guessed and not known:
        notes.append(Note(key=NoteKey.PRICES_UNQUOTED))
    elif guessed:
        names = tuple(one.outline.name for one in known[:3])
        notes.append(Note(key=NoteKey.PRICES_GUESSED, number=len(guessed), names=names))
    out = [option.name for option in judged if any(why.limit == LimitKey.SUPPLY for why in option.rejections)]
    if out:
        function = written_number(part.family, part.number) or "the function"
        notes.append(Note(key=NoteKey.NOT_SEEN, of=function, names=tuple(out)))
    notes += [] if chosen is None else _notes_of(chosen)
    return tuple(notes)


def _notes_of(chosen: OptionResult) -> list[Note]:
    """What there is to know of the option that is proposed."""
    notes = []
    if chosen.makers == 1:
        notes.append(Note(key=NoteKey.ONE_MAKER, of=chosen.name))
    if chosen.also_takes:
        notes.append(Note(key=NoteKey.ALSO_TAKES, of=chosen.name, names=chosen.also_takes, number=chosen.choice_worth))
    if chosen.drop_in == "same lands":
        notes.append(Note(key=NoteKey.SAME_LANDS, of=chosen.name))
    if chosen.geometry.design is not None and chosen.geometry.design.designed:
        notes.append(Note(key=NoteKey.DESIGNED, of=chosen.name, says=design_words(chosen.geometry.design)))
    if chosen.geometry.moved is not None:
        notes.append(Note(key=NoteKey.LANDS_MOVED, of=chosen.name, says=land_words(chosen.geometry.moved)))
    return notes


def notes_with(notes: Sequence[Note], chosen: OptionResult) -> tuple[Note, ...]:
    """Notes of a part with those of the option that the board takes in place of those of the cheapest by itself."""
    first = [note for note in notes if note.key in OF_SUPPLY]
    rest = [note for note in notes if note.key not in OF_SUPPLY | OF_CHOSEN]
    return (*first, *_notes_of(chosen), *rest)


def _misses(option: OptionResult) -> tuple[bool, int, float]:
    """How far an option lies outside the limits: what can't be bought last, then by their count, then by how far."""
    limits = {why.limit for why in option.rejections}
    broken = [option.figures[limit] for limit in limits if limit in option.figures]
    over = [
        figure.value / figure.limit if figure.better == "less" else figure.limit / figure.value
        for figure in broken
        if figure.limit and figure.value
    ]
    return LimitKey.SUPPLY in limits, len(limits), max(over, default=1.0)


def _says(part: PartTable, chosen: OptionResult | None, rejected: Sequence[OptionResult]) -> str:
    if chosen is not None:
        return f"{chosen.name}: " + ("in use, locked" if part.locked else "cheapest by itself")
    return nothing_fits_says(rejected)


def nothing_fits_says(rejected: Sequence[OptionResult]) -> str:
    """Of options that are all out, which comes nearest and what keeps it out."""
    nearest = min(rejected, key=_misses, default=None)
    if nearest is None:
        return "no option is known"
    reasons = "; ".join(r.says for r in nearest.rejections)
    unseen = [one.name for one in rejected if {why.limit for why in one.rejections} == {LimitKey.SUPPLY}]
    asked = f'; {", ".join(unseen)} would fit, if a maker offers it: an [[offer]] or supply = "any" allows it'
    told = unseen and nearest.name not in unseen
    return f"nothing fits the study's limits; {nearest.name} comes nearest: {reasons}{asked if told else ''}"
