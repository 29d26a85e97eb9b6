"""`landwise checks`: the checks against the outside, on this machine."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from landwise.untyped import Fields

if TYPE_CHECKING:
    from landwise.proving import Worked
    from landwise.proving.tables import Case


@click.command("checks")
@click.argument("words", nargs=-1)
@click.option("--all", "every", is_flag=True, help="Also identities, our own arithmetic, recalled values.")
@click.option("--deviating", is_flag=True, help="Only those that deviate.")
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def command(words: tuple[str, ...], every: bool, deviating: bool, as_json: bool) -> int:
    """Work the checks against the outside here and now: expected, computed, deviation, source, mark.

    An outside check holds what landwise computes, or a table that it carries, against a value that was read in the
    source named or that a general-purpose library gives. Rows of the catalogue against typed drawings are counted
    apart. Identities, our own arithmetic on a source's constants and recalled values are listed with --all and not
    counted. WORDS keep
    the checks that name all of them, in their titles or sources. Ends with 1 where one deviates that isn't known to.

    Example: landwise checks plate frequency
    """
    import json

    from landwise.errors import UnknownNameError
    from landwise.evidence import source
    from landwise.proving import all_cases, work

    def named(case: Case) -> bool:
        text = f"{case.table} {case.title} {case.says} {case.answers} {case.source}"
        text += source(case.source).title if case.source else ""
        return all(word.lower() in text.lower() for word in words)

    cases = [case for case in all_cases() if (every or case.kind == "outside") and named(case)]
    if not cases:
        raise UnknownNameError("no check names these words", found=" ".join(words), expected="landwise checks --all")
    worked = [work(case) for case in cases]
    unknown = sum(one.verdict != "holds" and not one.case.known for one in worked)
    shown = [one for one in worked if one.verdict != "holds"] if deviating else worked
    if as_json:
        click.echo(json.dumps([_row(one) for one in shown], indent=1, ensure_ascii=False))
    else:
        _print(shown, worked)
    return int(unknown > 0)


def _row(worked: Worked) -> Fields:
    case = worked.case
    limits = [None if abs(one) == float("inf") else one for one in (case.low, case.high)]
    return {
        "table": case.table,
        "title": case.title,
        "answers": case.answers,
        "inputs": dict(case.inputs),
        "unit": worked.unit,
        "expected": case.expected,
        "limits": limits,
        "computed": worked.computed,
        "deviation": worked.deviation,
        "verdict": worked.verdict,
        "known": case.known,
        "kind": case.kind,
        "sort": case.sort,
        "mark": case.mark,
        "source": case.source,
        "says": case.says,
    }


def _print(shown: list[Worked], worked: list[Worked]) -> None:
    from landwise.cli.terminal import console, verdict_text
    from landwise.proving import tally
    from landwise.proving.told import (
        computed_text,
        deviation_text,
        expected_text,
        inputs_text,
        mark_text,
        source_text,
    )

    out = console()
    table = ""
    for one in shown:
        case = one.case
        title = case.title if case.table in ("printed-lands", "outline-drawings", "transfer-bounds") else case.table
        if case.table != table and title == case.table:
            out.print(case.title, style="bold")
        table = case.table
        given = inputs_text(case) if title == case.table else case.title
        out.print(verdict_text(one.verdict), given, end=": ")
        values = f"expected {expected_text(one)}, computed {computed_text(one)}, deviation {deviation_text(one)}"
        out.print(values)
        out.print(f"    {case.kind}, {case.sort}, {mark_text(case)}: {source_text(case)}", style="dim")
        if case.known:
            out.print(f"    known: {case.known}", style="dim")
    out.print()
    both = tally(worked, "outside", "worked", "table row")
    for sort, words in (("worked", "computed values"), ("table row", "rows of tables that landwise carries")):
        one_sort = tally(worked, "outside", sort)
        out.print(f"  {one_sort.cases} {words}, from {one_sort.sources} sources", style="dim")
    rows = tally(worked, "outside", "catalogue row")
    counted = f"{_many(both.cases, 'check')} against the outside from {_many(both.sources, 'source')}"
    out.print(f"{counted}, {_deviating(both.fail)}")
    apart = f"{rows.cases} dimensions of the catalogue against {rows.sources} drawings, {_deviating(rows.fail)}"
    out.print(f"apart from them {apart}")
    others = [tally(worked, kind) for kind in ("identity", "own arithmetic", "recalled")]
    if any(other.cases for other in others):
        said = f"{others[0].cases} identities, {others[1].cases} of our own arithmetic and {others[2].cases} recalled"
        out.print(f"beside them {said}, which count as none", style="dim")


def _deviating(count: int) -> str:
    """How many don't hold, in words.

    >>> _deviating(0), _deviating(1)
    ('none deviates', '1 deviates')
    """
    return f"{count} deviate" if count > 1 else f"{count or 'none'} deviates"


def _many(count: int, word: str) -> str:
    """A count before its word: `1 check`, `2 checks`."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
