"""`landwise calibrate`: from a line's own paste inspection to a line file that a study takes."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from rich.console import Console

    from landwise.fabdata.inspectioncolumns import InspectionColumns


@click.command("calibrate")
@click.argument("inspection", metavar="INSPECTION.csv")
@click.option("-o", "--out", "target", required=True, metavar="LINE.toml", help="The line file to write.")
@click.option(
    "--foil", default=None, help='The foil that was printed with, such as "100 um"; for area ratios from sizes.'
)
@click.option("--technology", default="laser-cut", show_default=True, help="How its apertures are made.")
@click.option("--powder", default="T4", show_default=True, help="Powder type of the paste.")
@click.option("--study", "study", default=None, metavar="STUDY.toml", help="Say what the line file changes on a board.")
@click.option("--defects", default=None, metavar="COUNTS.csv", help="Counted defects: family, kind, defects, joints.")
@click.option(
    "--column",
    "columns",
    multiple=True,
    metavar="FIELD=HEADING",
    help='Which column holds a field, "HEADING [unit]" where the unit is missing or wrong; may be repeated.',
)
@click.option("--mapping", default=None, metavar="FILE", help="Take the columns from an earlier line file.")
@click.option("--columns-only", is_flag=True, help="Show how the columns would be taken, and write nothing.")
@click.option("-y", "--yes", is_flag=True, help="Take the columns as shown without asking.")
@click.option("--force", is_flag=True, help="Replace the line file if it exists.")
def command(
    inspection: str,
    target: str,
    foil: str | None,
    technology: str,
    powder: str,
    study: str | None,
    defects: str | None,
    columns: tuple[str, ...],
    mapping: str | None,
    columns_only: bool,
    yes: bool,
    force: bool,
) -> None:
    """Learn a line's paste transfer, print offset and shared volume from its own paste inspection.

    Writes the line file, and a page beside it (LINE.md) with the fits, what was learned and what stayed as shipped.
    A study takes the line file by `file` in its [line], or by `landwise study --line LINE.toml`. How the columns were
    taken is shown, asked for where somebody can answer, and kept in the line file.

    Example: landwise calibrate inspection.csv --foil "100 um" -o line.toml --column volume="Vol [%]"
    """
    from landwise.assembly.calibration import fit_print
    from landwise.assembly.levels import level
    from landwise.cli.terminal import console
    from landwise.errors import FileError, LandwiseError
    from landwise.fabdata.defectcounts import read_defects
    from landwise.fabdata.inspection import read_inspection
    from landwise.fabdata.inspectioncolumns import inspection_columns
    from landwise.fabdata.inspectionrows import heading_of
    from landwise.quantities import parse
    from landwise.sheets.files import write_atomic
    from landwise.study.calibrated import line_text, report_text, wanted
    from landwise.study.file import read_study

    path = Path(target)
    page = path.with_suffix(".md")
    for one in (path, page):
        if one.exists() and not force and not columns_only:
            raise FileError("the file exists", file=str(one), expected="another name, or --force")
    if study:
        read_study(study)  # a study that can't be read is told before anything is written
    foil_um = parse(foil, "thin length", place="--foil") if foil else None
    own = _own(columns, mapping)
    out = console()
    header, _ = heading_of(inspection)
    try:
        taken = inspection_columns(header, own)
    except LandwiseError as error:
        raise error.within(file=Path(inspection).name) from None
    _show(out, taken)
    if columns_only:
        return
    if not yes and sys.stdin.isatty() and not click.confirm("Take the columns so?", default=True):
        raise click.ClickException("nothing was written; say --column FIELD=HEADING for what is wrong")
    read = read_inspection(inspection, own, foil_um=foil_um)
    try:
        fit = fit_print(
            read.panel,
            read.place,
            dict(read.values),
            part=read.part if "part" in taken.fields else None,
            hours=read.hours,
            technology=technology,  # type: ignore[arg-type]  # checked where the prior is looked up
            powder=powder,  # type: ignore[arg-type]
        )
    except LandwiseError as error:
        raise error.within(file=Path(inspection).name) from None
    counted, left = read_defects(defects) if defects else ((), ())
    levels = tuple(level(one) for one in counted)
    named = {"technology": technology, "powder": powder, "source": Path(inspection).name}
    line = line_text(fit, read, **named, levels=levels)
    report = report_text(fit, read, **named, line_file=path.name, levels=levels, notes=left)
    write_atomic(path, line.encode())
    if study:
        report += _before_after(study, path)
    write_atomic(page, report.encode())
    out.print(f"{read.rows} rows, {fit.deposits} deposits used on {fit.panels} panels")
    for why, count in read.left_out.items():
        out.print(f"  left out {count}: {why}", style="dim", markup=False)
    for note in (*read.notes, *left):
        out.print(f"note: {note}", markup=False)
    for text in wanted(fit)[:3]:
        out.print(f"would narrow: {text}", style="dim", markup=False)
    out.print(f'wrote {target} and {page}; next: file = "{path.name}" in the [line] of a study', markup=False)


def _before_after(study: str, line: Path) -> str:
    """Each part's recommendation under the study's own line and under the line file, ranked by itself."""
    from landwise.judging.study import run_study
    from landwise.study.file import read_study

    before, after = (run_study(read_study(study, line=one)).parts for one in (None, line))
    rows = ["", f"## What it changes in {Path(study).name}", "", "| part | before | after |", "|---|---|---|"]
    for old, new in zip(before, after, strict=True):
        was, now = (one.chosen.name if one.chosen else "nothing fits" for one in (old, new))
        rows.append(f"| {old.name} | {was} | {now if now == was else f'**{now}**'} |")
    rows += ["", "Each part by itself, on today's foil. The whole board's choice: `landwise study` with `--line`.", ""]
    return "\n".join(rows)


def _own(columns: tuple[str, ...], mapping: str | None) -> dict[str, str]:
    """The user's own mapping: a kept one first, then what is said here."""
    from landwise.errors import InputError
    from landwise.fabdata.inspectioncolumns import read_mapping

    own = read_mapping(Path(mapping)) if mapping else {}
    for text in columns:
        field, equals, heading = text.partition("=")
        if not equals:
            raise InputError(
                "not a column", place="column", found=repr(text), expected='FIELD=HEADING, such as volume="Vol [%]"'
            )
        own[field.strip()] = heading.strip()
    return own


def _show(out: Console, taken: InspectionColumns) -> None:
    out.print("columns:", markup=False)
    for field, heading in taken.table().items():
        assumed = "  (unit taken so)" if field in taken.assumed else ""
        out.print(f"  {field:<14} {heading}{assumed}", markup=False)
    if taken.passed:
        out.print(f"  not used       {', '.join(taken.passed[:12])}", style="dim", markup=False)
