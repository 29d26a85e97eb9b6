"""`landwise explain`: the trail behind a figure of a result."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from landwise.results.choicejson import ChoiceJson, PointJson
    from landwise.results.resultjson import FigureJson, GivenJson, OptionJson, PartJson, ResultJson, StepJson


@click.command("explain")
@click.argument("result_file", metavar="RESULT.json")
@click.argument("reference", required=False)
@click.argument("figure", required=False)
@click.option("--outline", default=None, help="An option other than the chosen one.")
def command(result_file: str, reference: str | None, figure: str | None, outline: str | None) -> None:
    """Show why: the chain of formulas, inputs, sources and ranges of validity behind one figure.

    Without a reference, list the parts; without a figure, list the figures of the part's choice. In place of a
    reference: foil, board, inspection or powder tell what all parts share and who holds it there; steps lists
    the changes from today's board; trade-off lists every choice between cost, area and risk, and with a number
    opens one of them; grouping tells what each way to package gates costs. total lists the sums over the chosen board,
    and with a key (cost, cost-area, defects, life) goes back to what they are made of.

    Examples: landwise explain out/result.json U7 transfer; landwise explain out/result.json total cost
    """
    from landwise.results.file import read_result
    from landwise.study.file import read_text

    result = read_result(read_text(Path(result_file), 200_000_000), file=result_file)
    if reference is None:
        for part in result.parts:
            click.echo(f"{part.refs[0]:<8} {part.function}: {part.chosen or 'none fits'}")
        return
    known = {ref for part in result.parts for ref in part.refs}
    if reference not in known:
        if reference == "grouping":
            _grouping(result)
            return
        if reference == "total":
            _total(result, figure)
            return
        if _story(result, reference, figure):
            return
    part = _part(result, reference, result_file)
    option = _option(part, outline, result_file)
    if figure is None:
        _list(part, option, result)
        _part_story(result, part)
        return
    found = _figure(option, figure, result_file)
    _trail(found, f"{option.outline}, {found.title}", {**result.steps, **option.steps}, result, option)


SHARED = ("foil", "board", "inspection", "powder", "choice")


def _story(result: ResultJson, word: str, number: str | None) -> bool:
    """Tell about what all parts share; false if the word is not one for it."""
    from landwise.errors import InputError
    from landwise.results.choicewords import choice_lines, other_line

    if word not in (*SHARED, "steps", "trade-off"):
        return False
    told = result.choice
    if told is None:
        raise InputError(
            "this result ranks each part by itself", found=word, expected="a result of `landwise study` without --each"
        )
    if word == "steps":
        _migration(told)
    elif word == "trade-off" and number is not None:
        _open_board(told, number)
    elif word == "trade-off":
        click.echo("no.   " + "  ".join(f"{axis:>10}" for axis in told.axes))
        for place, point in enumerate(told.points, start=1):
            values = "  ".join(f"{value:>10.5g}" for value in point.values)
            click.echo(f"{place:<4}  {values}  {point.decision}: {_unlike(point, told)}")
        click.echo("all of the trade-off" if told.complete else "some points of the trade-off")
    else:
        for line in choice_lines(told):
            click.echo(line)
        if word != "choice":
            for other in told.others[2:]:
                click.echo(other_line(other, told.unit))
        if not told.holds and told.options and not told.left_out:
            click.echo("no single part holds the shared decision: freeing any one of them would not move it")
    return True


def _migration(told: ChoiceJson) -> None:
    """From today's board, change by change."""
    for step in told.steps:
        click.echo(
            f"{step.changes} changed, {step.saved:.4g} {told.unit} saved: {', '.join(step.changed)}; {step.decision}"
        )
    if told.steps_from:
        click.echo(told.steps_from)
    if told.gain or not told.steps:
        click.echo(told.gain or "no steps: today's board is the best already, or not known")


def _grouping(result: ResultJson) -> None:
    """How many packages: what each way costs, line by line."""
    found, unit = result.grouping, result.money
    if found is None:
        click.echo("nothing may be regrouped: name parts near each other under [[regroup]]")
        return
    click.echo(found.proof)
    for one in found.sets:
        click.echo(f"\n{', '.join(one.refs)}: {one.says}")
        click.echo(f"what decides, {one.decides}")
        for number, way in enumerate(one.ways):
            said = " + ".join(f"{count} × {name}" for name, count in way.packages.items())
            cost = "no board keeps the limits" if way.cost is None else f"{way.cost:.5g} {unit} a board"
            click.echo(f"{'→' if number == one.chosen else ' '} {said}: {cost}, {', '.join(way.outlines.values())}")
            for line, value in sorted(way.lines.items(), key=lambda pair: -abs(pair[1])):
                click.echo(f"      {line:<22} {value:.5f}")
    for line in found.told:
        click.echo(line)


def _total(result: ResultJson, key: str | None) -> None:
    """The sums over the chosen board, or one of them with its trail."""
    from landwise.errors import UnknownNameError

    if key is None:
        for figure in result.totals:
            click.echo(f"  {figure.key:<16} {_value(figure, result):<28} {figure.verdict:<10} {figure.title}")
        return
    named = {figure.key: figure for figure in result.totals}
    if key not in named:
        raise UnknownNameError("no such total", place="total", found=key, expected=", ".join(named) or "a choice")
    _trail(named[key], f"the chosen board, {named[key].title}", result.total_steps, result)


def _unlike(point: PointJson, told: ChoiceJson) -> str:
    """How a board of the trade-off differs from the choice."""
    unlike = ", ".join(f"{ref} {name}" for ref, name in point.options.items() if name != told.options.get(ref))
    return unlike or "the choice's options"


def _open_board(told: ChoiceJson, number: str) -> None:
    """One board of the trade-off in full."""
    from landwise.errors import UnknownNameError

    if not number.isdigit() or not 1 <= int(number) <= len(told.points):
        raise UnknownNameError(
            "no such board of the trade-off", place="trade-off", found=number, expected=f"1 to {len(told.points)}"
        )
    point = told.points[int(number) - 1]
    click.echo(", ".join(f"{axis} {value:.5g}" for axis, value in zip(told.axes, point.values, strict=True)))
    click.echo(f"shared by all parts: {point.decision}")
    for ref, name in point.options.items():
        mine = told.options.get(ref)
        click.echo(f"{ref:<8} {name}" + ("" if name == mine else f" (the choice: {mine})"))


def _part_story(result: ResultJson, part: PartJson) -> None:
    told = result.choice
    from landwise.board.result import difference_says

    if told is None:
        return
    for hold in told.holds:
        if hold.ref in part.refs:
            click.echo(
                f"{hold.part} alone holds the board at {told.decision}: {hold.saved:.3g} {told.unit}; "
                f"without it the board would take {hold.decision}"
            )
    for other in told.alternatives:
        if other.ref in part.refs:
            more = difference_says(other.more, told.unit)
            click.echo(f"in {other.option} instead, the board costs {more} ({other.decision})")
    ways = sorted({point.options[part.refs[0]] for point in told.points if part.refs[0] in point.options})
    if ways:
        click.echo(f"along the trade-off it comes in {', '.join(ways)}")


def _part(result: ResultJson, reference: str, file: str) -> PartJson:
    from landwise.errors import UnknownNameError

    for part in result.parts:
        if reference in part.refs:
            return part
    raise UnknownNameError(
        "no such reference", file=file, found=reference, expected=", ".join(part.refs[0] for part in result.parts[:10])
    )


def _option(part: PartJson, outline: str | None, file: str) -> OptionJson:
    from landwise.errors import UnknownNameError

    name = outline or part.chosen or part.present or (part.options[0].outline if part.options else "")
    for option in part.options:
        if option.outline.lower() == name.lower():
            return option
    raise UnknownNameError(
        "no such option of this part",
        file=file,
        place=part.refs[0],
        found=name,
        expected=", ".join(o.outline for o in part.options),
    )


# Words people ask with, to the figures that answer them.
_WORDS = {
    "slump": "slump-gap",
    "bridges": "bridging",
    "opens": "open",
    "margin": "print-margin",
    "print": "print-margin",
    "first-pass": "yield",
    "paste": "transfer",
    "printing": "transfer",
    "release": "area-ratio",
    "price": "cost",
    "inspection": "seen",
    "probe": "test-lands",
    "voltage": "clearance",
}


def _figure(option: OptionJson, word: str, file: str) -> FigureJson:
    from landwise.errors import UnknownNameError

    for key in (word, _WORDS.get(word, word)):
        for figure in option.figures:
            if key in (figure.key, figure.title):
                return figure
    raise UnknownNameError(
        "no such figure", file=file, place=option.outline, found=word, expected=", ".join(f.key for f in option.figures)
    )


def _list(part: PartJson, option: OptionJson, result: ResultJson) -> None:
    click.echo(f"{part.refs[0]} {part.function}: {option.outline}")
    click.echo(part.says)
    if part.runner_up:
        click.echo(part.runner_up)
    for rejection in option.rejections:
        click.echo(f"rejected by {rejection.limit}: {rejection.says}")
    _print(option)
    for figure in option.figures:
        click.echo(f"  {figure.key:<12} {_value(figure, result):<28} {figure.verdict:<10} {figure.why}")


def _print(option: OptionJson) -> None:
    """What binds an option's designed print, what stands beside it, what a micrometre would buy."""
    from landwise.results.printjson import lines_of

    for line in lines_of(option.print) if option.print is not None else ():
        click.echo(f"the print: {line}")


def _value(figure: FigureJson, result: ResultJson) -> str:
    from landwise.evidence.figures import text_of

    return text_of(figure.value, _unit(figure.unit, result), figure.low, figure.high)


def _unit(unit: str, result: ResultJson) -> str:
    """Money by the study's own name for it."""
    return result.money if unit == "money" else unit


def _trail(
    figure: FigureJson, says: str, known: Mapping[str, StepJson], result: ResultJson, of: OptionJson | None = None
) -> None:
    """A figure and the steps behind it; `known` are those that its trail goes back to."""
    click.echo(f"{says}: {_value(figure, result)}  {figure.verdict}")
    click.echo(f"  {figure.why}")
    if figure.limit is not None:
        source = result.sources.get(figure.limit_source)
        told = (
            f" ({source.title}, {source.mark})" if source else " (the study)" if figure.limit_source == "study" else ""
        )
        click.echo(
            f"  held to {'at least' if figure.better == 'more' else 'at most'} {figure.limit:g}"
            f" {_unit(figure.unit, result)}{told}"
        )
    if of is not None and figure.key in ("print-margin", "opening"):
        _print(of)
    _steps(figure.trail, known, result)


ORIGINS = {
    "stated": "stated",
    "default": "default",
    "chosen": "shared decision",
    "drawing": "drawing of",
    "rule": "rule",
    "simulation": "simulation",
}


def _steps(trail: Sequence[StepJson], known: Mapping[str, StepJson], result: ResultJson) -> None:
    """The steps in order, then those that they go back to, down to what is stated, default, drawn, or sourced."""
    names = {step.key: str(number) for number, step in enumerate(trail, start=1)}
    order = list(trail)
    for step in order:
        for given in step.given.values():
            if given.origin == "step" and given.place not in names and given.place in known:
                names[given.place] = str(len(names) + 1)
                order.append(known[given.place])
    for step in order:
        value = "" if step.value is None else f" = {step.value:.5g} {_unit(step.unit, result)}"
        click.echo(f"  {names[step.key]}. {step.says}{value}")
        for name, text in step.inputs.items():
            click.echo(f"       {name}: {text}")
        for name, given in step.given.items():
            click.echo(f"       {name}{_given_text(given, names, result)}")
        if step.formula:
            click.echo(f"       formula: {step.formula}  (landwise calc {step.formula})")
        if step.valid:
            click.echo(f"       valid: {step.valid}")
        told = dict.fromkeys((*step.sources, *(key for given in step.given.values() for key in given.sources)))
        for key in told:
            source = result.sources.get(key)
            if source:
                click.echo(f"       source: {source.title}; {source.where} ({source.mark})")


def _given_text(given: GivenJson, names: Mapping[str, str], result: ResultJson) -> str:
    """One input: its value, and where it comes from."""
    value = given.value
    shown = "" if value is None else f" {value:.5g}" if isinstance(value, float) else f" {value}"
    unit = f" {_unit(given.unit, result)}" if given.unit and shown else ""
    if given.origin == "step":
        # One that stands with a part goes on there.
        return f"{shown}{unit} (from {'step ' + names[given.place] if given.place in names else given.place})"
    where = f"{ORIGINS.get(given.origin, given.origin)} {given.place}".rstrip()
    return f"{shown}{unit} ({where}{f': {given.reason}' if given.reason else ''})"
