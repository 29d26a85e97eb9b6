"""`landwise family`: several boards, one stock of parts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from landwise.board.family import FamilyResult
    from landwise.study.file import Study


@click.command("family")
@click.argument("studies", metavar="STUDY.toml STUDY.toml…", nargs=-1, required=True)
@click.option("-o", "--out", "folder", default="out/family", show_default=True, help="Folder for the page and tables.")
@click.option(
    "--line", "line_file", default=None, metavar="LINE.toml", help="A line file; it stands before the studies."
)
@click.option(
    "--seconds", type=click.FloatRange(0, min_open=True), default=None, help="Time for the search; proven unless given."
)
@click.option("-j", "--jobs", type=click.IntRange(1), default=None, help="Processes for large boards; all cores.")
@click.option("--json", "as_json", is_flag=True, help="Print family.json on standard output; write no files.")
def command(
    studies: tuple[str, ...],
    folder: str,
    line_file: str | None,
    seconds: float | None,
    jobs: int | None,
    as_json: bool,
) -> None:
    """Choose the packages of several boards that are built from one stock.

    What another outline costs to bring in (feeder, stock, library, qualification: the rate `outline`) is paid once for
    all boards, and price breaks count the pieces of all of them. All else is each board's own: its run, line, limits.

    Writes family.html, family.json and stock.csv. Ctrl-C keeps the best found (parts not yet judged stay as they
    are), writes all files, and ends with exit code 130.

    Example: landwise family logger.toml valves.toml -o out/family
    """
    from landwise.board.family import choose_family
    from landwise.cli.study import cores
    from landwise.cli.terminal import stopping
    from landwise.memory import Memory, keep_in_cache_folder
    from landwise.results.family import family_text, stock_csv
    from landwise.sheets.familypage import family_html
    from landwise.sheets.files import check_folder, ready_folder, write_together

    if not as_json:
        check_folder(Path(folder))
    keep_in_cache_folder()
    boards = _named(studies, line_file)
    together = f"a family of {[study.board_key for study in boards.values()]}"
    memory = Memory.left_by(together)
    with stopping() as stop:
        result = choose_family(
            boards,
            memory=memory,
            seconds=float("inf") if seconds is None else seconds,
            stop=stop,
            jobs=jobs or cores(),
        )
        stopped = stop()
    memory.leave(together)
    data = family_text(result)
    if as_json:
        click.echo(data, nl=False)
    else:
        made = {
            "family.html": family_html(result).encode(),
            "family.json": data.encode(),
            "stock.csv": stock_csv(result).encode(),
        }
        ready_folder(Path(folder))
        write_together(Path(folder), made)
        _print(result)
        click.echo(f"written: {', '.join(str(Path(folder) / name) for name in made)}")
    if stopped:
        click.echo("landwise: stopped; this is the best found so far", err=True)
        raise click.exceptions.Exit(130)


def _named(paths: tuple[str, ...], line_file: str | None) -> dict[str, Study]:
    """The studies by the boards' names, or by their files where two boards have one name."""
    from landwise.study.file import read_study

    read = [(path, read_study(path, line=line_file)) for path in paths]
    names = [study.content.board.name for _, study in read]
    return {
        name if name and names.count(name) == 1 else path: study
        for name, (path, study) in zip(names, read, strict=True)
    }


def _print(result: FamilyResult) -> None:
    from landwise.cli.terminal import console, print_cautions
    from landwise.results.family import hangs_say, member_cautions, moves, pays_say, proof_says, totals_say

    out = console()
    for one in result.members:
        print_cautions(out, (f"{one.name}: {line}" for line in member_cautions(one)))
    for line in totals_say(result):
        out.print(line, markup=False)
    for one in result.members:
        outlines = ", ".join(dict.fromkeys(one.outlines(one.together)))
        out.print(f"  {one.name}, {one.run} boards: {outlines}; {pays_say(one, result.unit)}", markup=False)
    for name, refs, before, after in moves(result):
        out.print(f"  {name}  {', '.join(refs)}: {after} instead of {before}", style="bold", markup=False)
    hangs = hangs_say(result)
    if hangs:
        out.print(f"hangs on: {hangs}", markup=False)
    for line in result.told:
        out.print(f"note: {line}", style="dim", markup=False)
    out.print(proof_says(result), style="dim", markup=False)
