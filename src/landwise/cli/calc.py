"""`landwise calc`: the formula book."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from landwise.evidence import Answer, Formula


@click.command("calc")
@click.argument("key", required=False)
@click.argument("inputs", nargs=-1, metavar="[NAME=VALUE]...")
@click.option("--json", "as_json", is_flag=True, help="Print name, outputs, inputs, validity and sources as JSON.")
def command(key: str | None, inputs: tuple[str, ...], as_json: bool) -> None:
    """Work one formula of the book; without a key, list them; without inputs, describe it.

    Every input carries its unit.

    Example: landwise calc area-ratio length="0.25 mm" width="0.20 mm" foil="100 um"
    """
    from landwise.errors import InputError
    from landwise.evidence import all_formulas, evaluate, formula

    if key is None:
        listed = all_formulas()
        if as_json:
            click.echo(
                json.dumps(
                    [
                        {
                            "name": entry.key,
                            "title": entry.title,
                            "inputs": [i.name for i in entry.inputs],
                            "outputs": [o.name for o in entry.outputs],
                        }
                        for entry in listed.values()
                    ],
                    ensure_ascii=False,
                    indent=1,
                )
            )
            return
        width = max(len(name) for name in listed)
        for entry in listed.values():
            click.echo(f"{entry.key:<{width}}  {entry.title}")
        return
    entry = formula(key)
    if not inputs and any(item.default is None and not item.optional for item in entry.inputs):
        _describe(entry)
        return
    given: dict[str, str] = {}
    for text in inputs:
        name, equals, value = text.partition("=")
        if not equals:
            raise InputError("not an input", place=key, found=repr(text), expected='NAME=VALUE, such as foil="100 um"')
        if name in given:
            raise InputError("an input is given twice", place=key, found=name)
        given[name] = value
    answer = evaluate(key, given)
    if as_json:
        click.echo(json.dumps(answer.as_json(), ensure_ascii=False, indent=1))
        return
    _answer(answer)


def _describe(entry: Formula) -> None:
    from landwise.evidence import source
    from landwise.quantities import DIMENSIONS

    click.echo(f"{entry.key}: {entry.title}")
    if entry.equation:
        click.echo(f"  {entry.equation}")
    click.echo("inputs")
    for item in entry.inputs:
        kind = " | ".join(item.choices) if item.choices else item.dimension
        unit = DIMENSIONS[item.dimension].unit if item.dimension in DIMENSIONS else ""
        tail = f" (default {item.default})" if item.default is not None else " (optional)" if item.optional else ""
        click.echo(f"  {item.name:<18} {item.says} [{kind}{', ' + unit if unit else ''}]{tail}")
    click.echo("outputs")
    for output in entry.outputs:
        click.echo(f"  {output.name:<18} {output.says}" + (f" [{output.unit}]" if output.unit else ""))
    click.echo(f"valid: {entry.valid}")
    for key in entry.sources:
        click.echo(f"source: {source(key).title}; {source(key).where} ({source(key).mark})")
    if entry.cautions:
        click.echo(f"caution: {entry.cautions}")


def _answer(answer: Answer) -> None:
    from landwise.evidence import source
    from landwise.quantities import show

    entry = answer.formula
    says = {output.name: output for output in entry.outputs}
    width = max(len(name) for name in answer.outputs)
    for name, value in answer.outputs.items():
        shown = (
            show(value, says[name].unit, 4)
            if isinstance(value, (int, float)) and not isinstance(value, bool)
            else "none"
            if value is None
            else str(value)
        )
        click.echo(f"{name:<{width}} = {shown}   {says[name].says}")
    click.echo(f"valid: {entry.valid}")
    for key in entry.sources:
        click.echo(f"source: {source(key).title}; {source(key).where} ({source(key).mark})")
    if entry.cautions:
        click.echo(f"caution: {entry.cautions}")
