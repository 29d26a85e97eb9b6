"""`landwise offers`: from a distributor's or assembler's list to a file of offers that a study reads."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import click


@click.command("offers")
@click.argument("table", metavar="LIST")
@click.option("-o", "--out", "target", required=True, metavar="OFFERS.toml", help="The file of offers to write.")
@click.option(
    "--column",
    "columns",
    multiple=True,
    metavar="FIELD=HEADING",
    help="Which column holds a field, where it was taken wrongly; may be repeated.",
)
@click.option("--mapping", default=None, metavar="FILE", help="Take the columns from an earlier file of offers.")
@click.option("--study", "study", default=None, metavar="STUDY.toml", help="Keep only offers of this study's parts.")
@click.option("--source", default="", help="What to call the list; its file name otherwise.")
@click.option("--columns-only", is_flag=True, help="Show how the columns would be taken, and write nothing.")
@click.option("-y", "--yes", is_flag=True, help="Take the columns as shown without asking.")
@click.option("--force", is_flag=True, help="Replace the file of offers if it exists.")
def command(
    table: str,
    target: str,
    columns: tuple[str, ...],
    mapping: str | None,
    study: str | None,
    source: str,
    columns_only: bool,
    yes: bool,
    force: bool,
) -> None:
    """Turn a list of offers into a file that a study reads.

    Order codes are read by their letters; price breaks, stock, maker, grade, lifecycle, last day to buy, reel, least
    order and lead time are taken where the list has them. How the columns were taken is shown, asked for where
    somebody can answer, and kept in the file.

    Example: landwise offers distributor.csv -o offers.toml --column stock="Qty on hand"
    """
    from landwise.cli.terminal import console
    from landwise.errors import FileError, InputError
    from landwise.fabdata.offercolumns import columns_of
    from landwise.fabdata.offerlists import read_header, read_offers
    from landwise.sheets.files import write_atomic
    from landwise.study.offers import kept_columns, offers_text

    path = Path(target)
    if path.is_dir():
        raise FileError("a folder, not a file", file=target, expected="a file name such as offers.toml")
    if path.exists() and not force and not columns_only:
        raise FileError("the file exists", file=target, expected="another name, or --force")
    own = kept_columns(Path(mapping)) if mapping else {}
    for text in columns:
        field, equals, heading = text.partition("=")
        if not equals:
            raise InputError(
                "not a column", place="column", found=repr(text), expected='FIELD=HEADING, such as stock="Qty"'
            )
        own[field.strip()] = heading.strip()
    out = console()
    header, _ = read_header(table)
    try:
        taken = columns_of(header, own)
    except InputError as error:
        raise error.within(file=Path(table).name) from None
    out.print("columns:")
    for field, heading in dict(taken.table()).items():
        out.print(f"  {field:<14} {heading}")
    if taken.passed:
        out.print(f"  not used       {', '.join(taken.passed[:12])}", style="dim")
    if columns_only:
        return
    asked = not yes and sys.stdin.isatty()
    if asked and not click.confirm("Take the columns so?", default=True):
        raise click.ClickException("nothing was written; say --column FIELD=HEADING for what is wrong")
    found = read_offers(table, own, source=source, wanted=_wanted(study) if study else None)
    write_atomic(path, offers_text(found, today=datetime.now().astimezone().date()).encode())
    out.print(f"{found.rows} rows, {len(found.offers)} offers of {len({o.number for o in found.offers})} functions")
    for why, count in found.unread.items():
        out.print(f"  left out {count}: {why}", style="dim")
    for note in found.notes:
        out.print(f"note: {note}", style="dim")
    out.print(f'wrote {target}; next: offers = ["{path.name}"] in the study')


def _wanted(study: str) -> Callable[[str, str], bool]:
    """Whether a number and family belong to a part of the study."""
    from landwise.study.file import read_study
    from landwise.study.offers import wanted_by

    return wanted_by(read_study(study).content.part)
