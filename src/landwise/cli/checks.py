"""`landwise checks`: the checks against the outside, on this machine."""

from __future__ import annotations

import click


@click.command("checks")
@click.option("--all", "every", is_flag=True, help="Also identities and our own arithmetic, which count as no check.")
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def command(every: bool, as_json: bool) -> int:
    """Work the checks against the outside here and now: expected, computed, deviation, source, mark.

    An outside check holds a formula of the book against a value that was read in the source named, or that a
    general-purpose library gives. Identities and our own arithmetic on a source's constants are listed with --all and
    not counted. Ends with 1 where one deviates by more than the printed digits.

    Example: landwise checks --all
    """
    import json
    from collections import Counter

    from landwise.cli.terminal import console, verdict_text
    from landwise.evidence.checks import all_checks, work
    from landwise.quantities import show

    worked = [work(check) for check in all_checks() if every or check.kind == "outside"]
    failed = sum(one.verdict != "holds" for one in worked)
    if as_json:
        rows = [
            {
                "formula": one.check.formula,
                "inputs": dict(one.check.inputs),
                "output": one.check.output,
                "unit": one.unit,
                "expected": one.check.expected,
                "computed": one.computed,
                "deviation": one.deviation,
                "within": one.check.within,
                "verdict": one.verdict,
                "kind": one.check.kind,
                "mark": one.check.mark,
                "source": one.check.says,
            }
            for one in worked
        ]
        click.echo(json.dumps(rows, indent=1, ensure_ascii=False))
        return int(failed > 0)
    out = console()
    for one in worked:
        check = one.check
        out.print(verdict_text(one.verdict), f"{check.formula} {check.output}", end=": ", markup=False)
        away = "none" if abs(one.deviation) <= 1e-12 else show(one.deviation, one.unit, 2)
        values = f"expected {show(check.expected, one.unit, 6)}, computed {show(one.computed, one.unit, 6)}"
        out.print(f"{values}, deviation {away}", markup=False)
        out.print(f"    {check.kind}, {check.mark}: {check.says}", style="dim", markup=False)
    kinds = Counter(check.kind for check in all_checks())
    deviate = sum(one.verdict != "holds" and one.check.kind == "outside" for one in worked)
    beside = f"{kinds['identity']} identities and {kinds['own arithmetic']} of our own arithmetic"
    out.print()
    out.print(f"{kinds['outside']} checks against the outside, {deviate} of them deviate", markup=False)
    out.print(f"beside them {beside} (--all), which count as none", style="dim", markup=False)
    return int(failed > 0)
