"""What must be told first of an option and of a board: binding cautions, for headline, table, terminal and card."""

from __future__ import annotations

from collections.abc import Iterable

from landwise.board.result import BoardResult, difference_says
from landwise.judging.lifetime import asked_of
from landwise.judging.option import STATES_LIFE
from landwise.judging.results import OptionResult, PartResult
from landwise.quantities import significant, some_of
from landwise.results.roomwords import more_room_mm2
from landwise.results.rowmarks import taken_with
from landwise.service.contamination import TEST_FIELD_V_MM
from landwise.service.safety import Caution, binding, cautions_of
from landwise.study.file import StudyFile

MOST_NAMED = 4


def cautions(option: OptionResult, content: StudyFile) -> tuple[Caution, ...]:
    """All cautions of an option, most serious first."""
    return cautions_of(option.figures, content.use.voltage)


def must_tell(option: OptionResult, content: StudyFile) -> tuple[Caution, ...]:
    """Those that no output may leave out."""
    return binding(cautions(option, content))


def board_cautions(parts: Iterable[PartResult], content: StudyFile) -> tuple[str, ...]:
    """Binding cautions of the chosen packages, else of those in use, with the parts they concern; each once.

    A voltage that can hurt is told also where no package at all is left.
    """
    taken = ((part, part.chosen or part.present) for part in parts if part.part.fitted)
    said = cautions_by_text([(part.named, option) for part, option in taken if option is not None], content)
    of_voltage = (caution.text for caution in binding(cautions_of({}, content.use.voltage)))
    return (*(text for text in of_voltage if text not in said), *said)


def unshown_lives(parts: Iterable[PartResult], content: StudyFile) -> str:
    """Whose joints aren't shown to last where the study says that it lives; empty where all are, or no place is stated.

    Absence of evidence takes no option out and is under no word of praise either: page one, terminal and reply say it.
    """
    if not content.use.model_fields_set & STATES_LIFE:
        return ""
    taken = [(part, part.chosen or part.present) for part in parts if part.part.fitted]
    names = [
        f"{part.name} in {option.name}"
        for part, option in taken
        if option is not None and "life" in option.figures and option.figures["life"].verdict == "not known"
    ]
    if not names:
        return ""
    return (
        f"how long joints last where it lives is not shown: {some_of(names, MOST_NAMED)}; a board test"
        " (IPC-9701) shows it, or your own in [[use.tests]]"
    )


def cautions_by_text(taken: Iterable[tuple[str, OptionResult]], content: StudyFile) -> tuple[str, ...]:
    """Binding cautions of the options that parts come in, with the parts they concern; each once."""
    concerned: dict[str, list[str]] = {}
    for name, option in taken:
        for caution in must_tell(option, content):
            who = "" if not caution.figure else f"{name} in {option.name}"
            concerned.setdefault(caution.text, []).append(who)
    return tuple(
        text if not any(who) else f"{', '.join(who[:4])}{' …' if len(who) > 4 else ''}: {text}"
        for text, who in concerned.items()
    )


def foils_counted(result: BoardResult) -> tuple[float, float] | None:
    """The foil that today's board is counted through and the one that is proposed, where they differ. [µm]"""
    if result.choice is None or not result.choice.best.found:
        return None
    today = result.choice.model.decisions[0].foil_um
    proposed = result.choice.model.decisions[result.choice.best.decision].foil_um
    return None if today == proposed else (today, proposed)


def asked(result: BoardResult) -> tuple[str, ...]:
    """What is to be asked, in words: a wish not met, then what the study leaves open.

    That is print, foil, sockets, room, damp, and the place it lives in.
    """
    return (
        *wishes_asked(result.parts, result.content),
        *print_asked(result),
        *foil_asked(result),
        *sockets_asked(result),
        *room_asked(result),
        *damp_asked(result),
        *asked_of(result.content),
    )


def wishes_asked(parts: Iterable[PartResult], content: StudyFile) -> tuple[str, ...]:
    """The wish for hidden or exposed terminals where what is proposed does not meet it: what does, and for how much.

    A wish weighs and rules nothing out: only the reader can say whether it is worth what meeting it costs. Nothing is
    asked of a locked part.
    """
    wish = content.want.terminals
    if wish == "either":
        return ()
    free = [part for part in parts if part.part.fitted and not part.part.locked]
    said = [text for part in free if (text := _wish_says(part, content))]
    if not said:
        return ()
    more = f"; and {len(said) - MOST_NAMED} parts more" if len(said) > MOST_NAMED else ""
    return (f"terminals wanted {wish}: {'; '.join(said[:MOST_NAMED])}{more}",)


def _wish_says(part: PartResult, content: StudyFile) -> str:
    """How a part's package falls short of a wish for its terminals, and what meets it; empty where nothing is better.

    An option that meets it wholly is named before one that meets it in part; of several the cheapest.
    """
    if part.chosen is None or part.chosen.figures["reach"].verdict == "holds":
        return ""
    none = part.chosen.figures["reach"].verdict == "fails"
    falls_short = f"{part.name} in {part.chosen.name} {'does not meet it' if none else 'meets it in part'}"
    order = part.standing.order if part.standing else [one.name for one in part.options if one.feasible]
    named = {one.name: one for one in part.options}
    for verdict, how in (("holds", ""), ("marginal", " in part")) if none else (("holds", ""),):
        other = next((named[name] for name in order if named[name].figures["reach"].verdict == verdict), None)
        if other is not None:
            return ", ".join((falls_short, f"{other.name} meets it{how}{_for_more(other, part, content)}"))
    if not none:
        return ""
    able = [one.name for one in part.options if one.figures["reach"].verdict != "fails"]
    would = f": {some_of(able, MOST_NAMED)} would (see why left out)" if able else ""
    return f"{falls_short}, nor does any other that can be taken{would}"


def _for_more(other: OptionResult, part: PartResult, content: StudyFile) -> str:
    """What the board costs more with another option than with the chosen one, and what it takes with it."""
    if part.standing is None or part.chosen is None:
        return ""
    more = part.standing.more[other.name] - part.standing.more[part.chosen.name]
    return ", ".join((f" for {difference_says(more, f'{content.costs.unit} a board')}", *taken_with(other, part)))


def print_asked(result: BoardResult) -> tuple[str, ...]:
    """Whether the board is printed for other parts anyway, where a print is proposed for the parts studied alone."""
    stated = "printed_anyway" in result.content.board.model_fields_set
    taken = [(part.chosen, part.present) for part in result.parts if part.part.fitted and part.chosen]
    if all(chosen.geometry.outline.drilled for chosen, _ in taken):
        return ()
    if not result.content.board.printed_anyway:
        return (
            "is nothing else on the board printed ([board] printed_anyway = false)? Foil, print and reflow are counted"
            " for these parts alone",
        )
    if stated or not all(present and present.geometry.outline.drilled for _, present in taken):
        return ()
    return (
        "all packages in use are drilled: is anything else on the board printed? Foil, print and reflow are taken to be"
        " there anyway; else state [board] printed_anyway = false, and these parts pay for them",
    )


def sockets_asked(result: BoardResult) -> tuple[str, ...]:
    """Whether parts that stand in sockets must stay exchangeable, where another package is proposed for them."""
    moved = [part.name for part in result.parts if part.part.fitted and part.part.socketed and part.changes]
    if not moved:
        return ()
    return (
        f"must parts that stand in sockets today stay exchangeable ({some_of(moved, MOST_NAMED)})? locked ="
        " true keeps their package; what the sockets cost is not counted",
    )


def damp_asked(result: BoardResult) -> tuple[str, ...]:
    """What water on a bare board, or damp air under a stated voltage, leaves to be asked."""
    use = result.content.use
    if use.air == "dry" or use.coat != "none":
        return ()
    taken = [(part, part.chosen or part.present) for part in result.parts if part.part.fitted]
    fields = [(part, option, option.figures["migration-field"]) for part, option in taken if option is not None]
    above = [
        f"{part.name} in {option.name} at {significant(figure.value)} V/mm"
        for part, option, figure in fields
        if "voltage" in use.model_fields_set and figure.value is not None and figure.value > TEST_FIELD_V_MM
    ]
    names = some_of(above, MOST_NAMED)
    tested = f"the {TEST_FIELD_V_MM:g} V/mm that fluxes are tested at"
    if use.air == "wet" and any(figure.verdict != "holds" for _, _, figure in fields):
        says = "water on a bare board grows metal across gaps under voltage: is it kept off, or a clean board coated?"
        return (f"{says} Above {tested}: {names}" if above else says,)
    if not above:
        return ()
    return (f"damp air on a bare board, above {tested}: {names}; ask for a cleanliness test of the assembly",)


def room_asked(result: BoardResult) -> tuple[str, ...]:
    """Whether there is room for what is proposed, where it takes more than today's packages and no size is stated."""
    more = more_room_mm2(result)
    if not more:
        return ()
    grown = [
        f"{part.name} in {part.chosen.name}"
        for part in result.parts
        if part.part.fitted and part.chosen and part.present and part.chosen.area_mm2 > part.present.area_mm2
    ]
    which = f" ({', '.join(grown[:MOST_NAMED])}{' …' if len(grown) > MOST_NAMED else ''})" if grown else ""
    return (
        f"is there room for {significant(more)} mm² more than today's packages take{which}? The board's size is not"
        " stated: state [board] length and width, or a limit, [want] board_limits area",
    )


def foil_asked(result: BoardResult) -> tuple[str, ...]:
    """What must be asked of the foil: nobody named it, or it is thicker than other parts bear."""
    found = result.choice
    if found is None or not found.best.found:
        return ()
    bears, foil_um = result.content.board.thickest_foil, found.model.decisions[found.best.decision].foil_um
    if bears is not None and foil_um > bears:
        why = "stated" if result.content.line.foil is not None else "the thinnest on hand"
        return (
            f"the {foil_um:g} µm foil is {why}, and other parts of the board bear {bears:g} µm at most: a thinner foil,"
            " or a step under them",
        )
    foils = foils_counted(result)
    if foils is None or result.content.line.foil is not None:
        return ()
    if foils[1] < foils[0]:
        return (
            f"the {foils[1]:g} µm foil suits the parts studied and prints every part of the board, with less paste than"
            f" {foils[0]:g} µm: hold the largest joints (connectors, power parts) against it, or state [line] foil",
        )
    if bears is not None:
        return ()
    return (
        f"the {foils[1]:g} µm foil suits the parts studied and prints every part of the board: hold the finest others"
        " against it, or state [line] foil or [board] thickest_foil",
    )
