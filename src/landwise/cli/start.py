"""`landwise start`: from a bill of materials to a study file."""

from __future__ import annotations

from pathlib import Path

import click

MOST_SHOWN = 60  # of each kind; the file holds all


@click.command("start")
@click.argument("given", metavar="[BILL]", required=False)
@click.option(
    "--bom", "bill", default=None, metavar="FILE", help="Bill of materials: CSV of any delimiter, or a spreadsheet."
)
@click.option(
    "--placement",
    multiple=True,
    metavar="FILE",
    help="Placement file, for what the bill leaves out; may be repeated for the two sides.",
)
@click.option("-o", "--out", "target", required=True, metavar="STUDY.toml", help="The study file to write.")
@click.option("--line", default=None, metavar="LINE.toml", help="Your own line, as `landwise calibrate` wrote it.")
@click.option("--name", default=None, help="What to call the board; the bill's folder or file name otherwise.")
@click.option("--force", is_flag=True, help="Replace the study file if it exists.")
def command(
    given: str | None,
    bill: str | None,
    placement: tuple[str, ...],
    target: str,
    line: str | None,
    name: str | None,
    force: bool,
) -> None:
    """Turn a bill of materials into a commented study file.

    Every part is classified; logic parts become tables with function, terminals and the package in use.
    What was guessed is marked with its reason, what could not be read is listed, nothing is dropped.

    Example: landwise start bom.csv --placement pos.csv -o board.toml
    """
    from landwise.cli.terminal import console
    from landwise.errors import FileError
    from landwise.fabdata.bills import read_bill
    from landwise.fabdata.parts import recognise
    from landwise.fabdata.placements import joined, read_placements
    from landwise.memory import keep_in_cache_folder
    from landwise.sheets.files import write_atomic
    from landwise.study.file import FORMAT, study_from
    from landwise.study.linefile import with_line_file
    from landwise.study.start import KIND_WORDS, study_text

    keep_in_cache_folder()
    if (given is None) == (bill is None):
        raise click.UsageError("one bill of materials is wanted: landwise start bom.csv -o board.toml")
    bill = bill or given or ""
    path = Path(target)
    if path.exists() and not force:
        raise FileError(
            "the study file exists; it may hold your work", file=target, expected="another name, or --force"
        )
    if path.is_dir():
        raise FileError("a folder, not a file", file=target, expected="a file name such as board.toml")
    found = recognise(read_bill(bill), joined([read_placements(file) for file in placement]) if placement else None)
    board = name or Path(bill).resolve().parent.name or Path(bill).stem
    import os
    import tomllib

    text = study_text(
        found,
        bill=Path(bill).name,
        placement=", ".join(Path(file).name for file in placement) or None,
        board=board,
        line_file=Path(os.path.relpath(line, path.parent)).as_posix() if line else None,
    )
    data = with_line_file(tomllib.loads(text), path.parent)
    study_from({"landwise": FORMAT, **data}, file=target)  # what is written must be readable
    write_atomic(path, text.encode())

    out = console()
    for kind, count in sorted(found.count().items(), key=lambda item: list(KIND_WORDS).index(item[0])):
        out.print(f"  {count:4d}  {KIND_WORDS[kind]}")
    for part in found.logic[:MOST_SHOWN]:
        refs = ", ".join(part.references[:5]) + (
            f" and {len(part.references) - 5} more" if len(part.references) > 5 else ""
        )
        guessed = f"; guessed: {', '.join(g.field for g in part.guesses)}" if part.guesses else ""
        out.print(
            f"  [bold]{refs}[/bold]  {part.function}, {part.terminals} terminals,"
            f" {part.outline or 'package not known'}[dim]{guessed}[/dim]"
        )
    if len(found.logic) > MOST_SHOWN:
        out.print(f"  and {len(found.logic) - MOST_SHOWN} more logic parts, all in {target}", markup=False)
    for unread in found.unread[:MOST_SHOWN]:
        out.print(f"  [red]not read[/red] {', '.join(unread.references[:5])} (row {unread.row}): {unread.reason}")
    if len(found.unread) > MOST_SHOWN:
        out.print(f"  and {len(found.unread) - MOST_SHOWN} more rows not read, all named in {target}", markup=False)
    for note in found.notes[:MOST_SHOWN]:
        out.print(f"  note: {note}", style="dim", markup=False)
    out.print(f"wrote {target}; next: landwise study {target} -o out/")
