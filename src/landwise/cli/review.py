"""`landwise review`: the stencil of a finished board."""

from __future__ import annotations

from pathlib import Path

import click

LEVELS = ("fails", "marginal", "never")


@click.command("review")
@click.argument("source", metavar="FOLDER_OR_ZIP")
@click.option("-o", "--out", "folder", default="out", show_default=True, help="Folder for the report and its files.")
@click.option(
    "--layer",
    "layers",
    multiple=True,
    metavar="ROLE=FILE",
    help="Say what a file is, e.g. paste-top=board.gtp. Repeatable; outranks what is recognised.",
)
@click.option(
    "--line", "line_name", default="ordinary", show_default=True, help="Assembly line: ordinary, fine or bench."
)
@click.option("--foils", default=None, metavar="'80 um, 100 um'", help="Foils to compare; the line's by default.")
@click.option("--powder", default=None, help="Powder of the paste, T3 to T7; the line's by default.")
@click.option(
    "--run",
    default=500,
    show_default=True,
    type=click.IntRange(1, 100_000_000),
    help="Boards over which a step must pay.",
)
@click.option(
    "--fail-on",
    "fail_on",
    type=click.Choice(LEVELS),
    default="fails",
    show_default=True,
    help="Exit with 1 from this level of finding on.",
)
@click.option("--json", "as_json", is_flag=True, help="Print review.json on standard output; write no files.")
def command(
    source: str,
    folder: str,
    layers: tuple[str, ...],
    line_name: str,
    foils: str | None,
    powder: str | None,
    run: int,
    fail_on: str,
    as_json: bool,
) -> int:
    """Review a board's stencil from its fabrication files.

    Reads the Gerber layers, drill, placement and bill of a folder or zip; judges every aperture under every foil;
    writes report.html, report.pdf, review.json, findings.csv, changes.csv, the corrected paste layers and, where a
    step helps, its zones. Ends with 0 where nothing is found, 1 from the chosen level on, 2 for unreadable input.

    Example: landwise review gerbers.zip -o out/ --fail-on marginal
    """
    import gc

    from landwise.assembly.lines import preset
    from landwise.cli.terminal import console
    from landwise.quantities import parse
    from landwise.review.jobs import read_board
    from landwise.review.reviewfile import review_text
    from landwise.review.reviews import review

    gc.disable()  # a board makes millions of small objects and frees few: collecting them costs a fifth of the time
    line = preset(line_name)
    thick = tuple(parse(text.strip(), "thin length", place="--foils") for text in foils.split(",")) if foils else ()
    read = read_board(Path(source), _overrides(layers))
    result = review(read.board, line, foils_um=thick, powder=_powder(powder), run=run)
    if as_json:
        click.echo(review_text(result), nl=False)
    else:
        from landwise.review.filmsout import films, writable
        from landwise.sheets.reviewreport import write_review

        result = writable(result, read)
        layers_out = films(result, read)
        written = write_review(result, Path(folder), layers_out)
        _print(result, written, console())
    levels = {finding.level for finding in result.findings}
    return int(fail_on != "never" and ("fails" in levels or (fail_on == "marginal" and "marginal" in levels)))


def _overrides(layers: tuple[str, ...]) -> dict[str, str]:
    from landwise.errors import InputError

    found: dict[str, str] = {}
    for text in layers:
        role, mark, file = text.partition("=")
        if not (role and mark and file):
            raise InputError(
                "a layer is given as ROLE=FILE", place="--layer", found=text, expected="paste-top=board.gtp"
            )
        found[role.strip()] = file.strip()
    return found


def _powder(text: str | None):  # type: ignore[no-untyped-def]
    from landwise.errors import InputError
    from landwise.printing.model import POWDERS

    if text is None:
        return None
    powder = text.upper()
    if powder not in POWDERS:
        raise InputError("unknown powder", place="--powder", found=text, expected=" | ".join(POWDERS))
    return powder


def _print(result, written, out) -> None:  # type: ignore[no-untyped-def]
    from rich.table import Table

    from landwise.cli.terminal import verdict_text
    from landwise.quantities import significant
    from landwise.review.findings import KEYS

    out.print(f"[bold]{result.board.name}[/bold]: line {result.line.name!r}, {result.powder} powder", markup=True)
    for text in result.board.reading:
        out.print(f"  {text}", style="dim", markup=False)
    for side in result.sides:
        out.print()
        out.print(
            f"{side.side}: {len(side.given.paste)} apertures, {len(side.parts)} parts; {side.choice.says}", markup=False
        )
        table = Table(box=None, padding=(0, 1), header_style="bold", pad_edge=False)
        for name in ("foil", "hold", "marginal", "fail", "least area ratio", "defects expected"):
            table.add_column(name, justify="right")
        rows = [
            (f"{row.foil_um:g} µm" + (" →" if row.foil_um == side.choice.best_um else ""), row)
            for row in side.choice.rows
        ]
        if side.choice.step is not None:
            rows.append(("stepped", side.choice.step.row))
        if side.changes:
            rows.append(("corrected", side.after_row))
        for name, row in rows:
            expected = (
                f"{significant(row.defects, 2)} ({significant(row.defects_low, 2)}…{significant(row.defects_high, 2)})"
            )
            expected = "< 0.0005" if row.defects_high < 5e-4 else expected
            table.add_row(name, str(row.holds), str(row.marginal), str(row.fails), f"{row.least_ratio:.2f}", expected)
        out.print(table)
        _findings(side, out, KEYS, verdict_text)
        if side.changes:
            out.print(f"{len(side.changes)} apertures changed in the corrected layer (changes.csv)")
    for note in result.notes:
        out.print(f"note: {note}", style="dim", markup=False)
    out.print()
    out.print(f"report: {written.folder / 'report.html'}", markup=False)
    out.print(
        f"        {', '.join(name for name in written.names if name != 'report.html')}", style="dim", markup=False
    )


def _findings(side, out, keys, verdict_text, most: int = 14) -> None:  # type: ignore[no-untyped-def]
    from rich.table import Table

    if not side.findings:
        out.print("nothing to mend")
        return
    table = Table(box=None, padding=(0, 1), show_header=False, pad_edge=False)
    table.add_column(no_wrap=True)
    table.add_column(no_wrap=True, max_width=14)
    table.add_column(no_wrap=True)
    table.add_column()
    from rich.text import Text

    for finding in side.findings[:most]:
        table.add_row(
            verdict_text(finding.level), Text(finding.component or "–"), keys[finding.key], Text(finding.says)
        )
    out.print(table)
    if len(side.findings) > most:
        out.print(f"and {len(side.findings) - most} more (findings.csv)", style="dim")
