"""`landwise calibrate`: from a line's own paste inspection to a line file that a study takes."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from landwise.untyped import Table

if TYPE_CHECKING:
    from rich.console import Console

    from landwise.assembly.witness import Witness
    from landwise.fabdata.inspectioncolumns import InspectionColumns
    from landwise.fabdata.inspectionplaces import Apertures
    from landwise.fabdata.placementchecks import PlacementChecks
    from landwise.study.calibrated import Calibrated


@click.command("calibrate")
@click.argument("inspection", metavar="[INSPECTION.csv]", required=False)
@click.option("-o", "--out", "target", required=True, metavar="LINE.toml", help="The line file to write.")
@click.option(
    "--foil", default=None, help='The foil that was printed with, such as "100 um"; for area ratios from sizes.'
)
@click.option("--technology", default="laser-cut", show_default=True, help="How its apertures are made.")
@click.option("--powder", default="T4", show_default=True, help="Powder type of the paste.")
@click.option(
    "--paste", default=None, metavar="GERBERS", help="Films that were printed (folder or zip): the apertures."
)
@click.option(
    "--side", type=click.Choice(["top", "bottom"]), default="top", show_default=True, help="Which of their sides."
)
@click.option("--placed", default=None, metavar="CHECKS.csv", help="Placement checks: board, part, dx, dy, turn.")
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
# click hands every option over by its name, each of a type of its own
def command(inspection: str | None, target: str, **stated: Any) -> None:
    """Learn a line's paste transfer, print offset and shared volume from its own paste inspection.

    Writes the line file, and a page beside it (LINE.md) with the fits, what was learned and what stayed as shipped.
    A study takes the line file by `file` in its [line], or by `landwise study --line LINE.toml`. How the columns were
    taken is shown, asked for where somebody can answer, and kept in the line file.

    Example: landwise calibrate inspection.csv --foil "100 um" -o line.toml --column volume="Vol [%]"
    """
    from landwise.cli.terminal import console
    from landwise.errors import FileError, InputError
    from landwise.sheets.files import write_atomic
    from landwise.study.calibrated import line_text, report_text, wanted
    from landwise.study.file import read_study

    if inspection is None and not (stated["defects"] or stated["placed"]):
        raise InputError(
            "nothing to learn from", expected="INSPECTION.csv, --defects COUNTS.csv or --placed CHECKS.csv"
        )
    path = Path(target)
    page = path.with_suffix(".md")
    for one in (path, page):
        if one.exists() and not stated["force"] and not stated["columns_only"]:
            raise FileError("the file exists", file=str(one), expected="another name, or --force")
    if stated["study"]:
        read_study(stated["study"])  # a study that can't be read is told before anything is written
    out = console()
    own, checks = _columns(out, inspection, stated)
    if stated["columns_only"]:
        return
    if not stated["yes"] and sys.stdin.isatty() and not click.confirm("Take the columns so?", default=True):
        raise click.ClickException("nothing was written; say --column FIELD=HEADING for what is wrong")
    done, left = _calibrated(inspection, own, checks, stated)
    line = line_text(done)
    done = replace(done, witnesses=_witnesses(done, line))
    report = report_text(done, line_file=path.name, notes=left)
    write_atomic(path, line.encode())
    if stated["study"]:
        report += _before_after(stated["study"], path)
    write_atomic(page, report.encode())
    if done.read is not None:
        out.print(f"{done.read.rows} rows, {done.fit.deposits} deposits used on {done.fit.panels} panels")
        for why, count in done.read.left_out.items():
            out.print(f"  left out {count}: {why}", style="dim", markup=False)
    for note in (*(done.read.notes if done.read else ()), *(checks.notes if checks else ()), *left):
        out.print(f"note: {note}", markup=False)
    for text in wanted(done)[:3]:
        out.print(f"would narrow: {text}", style="dim", markup=False)
    out.print(f'wrote {target} and {page}; next: file = "{path.name}" in the [line] of a study', markup=False)


def _columns(out: Console, inspection: str | None, stated: Table) -> tuple[dict[str, str], PlacementChecks | None]:
    """How the columns are taken, shown: the user's own of the inspection, and the placement checks as read."""
    from landwise.errors import LandwiseError
    from landwise.fabdata.inspectioncolumns import inspection_columns
    from landwise.fabdata.inspectiondialects import as_table
    from landwise.fabdata.inspectionrows import heading_of
    from landwise.fabdata.placementchecks import FIELDS, read_placement_checks

    own = _own(stated["columns"], stated["mapping"])
    placed = {field: own.pop(field) for field in list(own) if field in FIELDS}
    taken = None
    if inspection is not None:
        with as_table(Path(inspection)) as (table, _):
            header, _ = heading_of(table)
        try:
            taken = inspection_columns(header, own)
        except LandwiseError as error:
            raise error.within(file=Path(inspection).name) from None
    checks = read_placement_checks(stated["placed"], placed) if stated["placed"] else None
    _show(out, taken, checks)
    return own, checks


def _calibrated(
    inspection: str | None, own: Mapping[str, str], checks: PlacementChecks | None, stated: Table
) -> tuple[Calibrated, tuple[str, ...]]:
    """Everything fitted, and what was left out of the counted defects."""
    from landwise.assembly.calibration import NOTHING_FITTED, fit_print
    from landwise.assembly.levels import level
    from landwise.assembly.placed import fit_placement
    from landwise.fabdata.defectcounts import read_defects
    from landwise.fabdata.inspection import read_inspection
    from landwise.quantities import parse
    from landwise.study.calibrated import Calibrated

    foil_um = parse(stated["foil"], "thin length", place="--foil") if stated["foil"] else None
    fit, read = NOTHING_FITTED, None
    if inspection is not None:
        apertures = _apertures(stated["paste"], stated["side"]) if stated["paste"] else None
        read = read_inspection(inspection, own, foil_um=foil_um, apertures=apertures)
        with _of(inspection):
            fit = fit_print(
                read.panel,
                read.place,
                dict(read.values),
                part=read.part if "part" in read.columns.fields else None,
                hours=read.hours,
                technology=stated["technology"],
                powder=stated["powder"],
            )
    placement = None
    if checks is not None:
        with _of(stated["placed"]):
            placement = fit_placement(checks.board, checks.part, checks.dx_mm, checks.dy_mm, checks.turn_deg)
    counted, left = read_defects(stated["defects"]) if stated["defects"] else ((), ())
    done = Calibrated(
        fit=fit,
        read=read,
        technology=stated["technology"],
        powder=stated["powder"],
        source=Path(inspection or stated["defects"] or stated["placed"]).name,
        levels=tuple(level(one) for one in counted),
        placement=placement,
        checks=checks,
    )
    return done, left


def _witnesses(done: Calibrated, line: str) -> tuple[Witness, ...]:
    """What counts on packages say of the model, each package printed as this line would."""
    import tomllib

    from landwise.assembly.drawn import names
    from landwise.assembly.knowledge import default_knowledge
    from landwise.assembly.partrates import causes
    from landwise.assembly.witness import witness
    from landwise.judging.bench import Bench
    from landwise.outlines import find
    from landwise.study.file import study_from

    counts = [one.counted for one in done.levels if one.counted.package]
    if not counts:
        return ()
    # The counts' own rates must not stand in for the model that they are held against.
    table = {key: value for key, value in tomllib.loads(line)["line"].items() if key not in ("rates", "counts")}
    bench = Bench.of(study_from({"line": table}))
    known = default_knowledge()
    scores = {name: known.scores[:, k].tolist() for k, name in enumerate(names())}
    found = []
    for one in counts:
        rates = bench.geometry(find(one.package)).rates
        if rates is None:
            continue  # a drilled part: nothing of it is printed
        modelled, other = causes(rates)[one.kind]
        # Only what this package's rate hangs on can be spoken for: other terms move with the draws by chance.
        own = {hanging.term for hanging in dict(rates.hangs_on).get(f"{one.kind}s", ())}
        found.append(witness(one, modelled, other, {name: of for name, of in scores.items() if name in own}))
    return tuple(found)


@contextmanager
def _of(file: str) -> Iterator[None]:
    """What goes wrong within names the file."""
    from landwise.errors import LandwiseError

    try:
        yield
    except LandwiseError as error:
        raise error.within(file=Path(file).name) from None


def _before_after(study: str, line: Path) -> str:
    """The board's recommendation under the study's own line and under the line file."""
    from landwise.board.choice import choose_board
    from landwise.judging.study import run_study
    from landwise.study.file import read_study

    results = [choose_board(run_study(read_study(study, line=one))) for one in (None, line)]
    rows = ["", f"## What it changes in {Path(study).name}", "", "| part | before | after |", "|---|---|---|"]
    for old, new in zip(*(one.parts for one in results), strict=True):
        was, now = (one.chosen.name if one.chosen else "nothing fits" for one in (old, new))
        rows.append(f"| {old.name} | {was} | {now if now == was else f'**{now}**'} |")
    foils = [f"{one.line.foil_um:g} µm" for one in results]
    rows += [f"| foil | {foils[0]} | {foils[1] if foils[0] == foils[1] else f'**{foils[1]}**'} |", ""]
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


def _apertures(source: str, side: str) -> Apertures:
    """The openings of one side of a board's paste films."""
    from landwise.errors import InputError
    from landwise.fabdata.inspectionplaces import Apertures
    from landwise.review.jobs import read_board

    sides = {one.side: one.paste for one in read_board(Path(source), {}, once=False).board.sides}
    if side not in sides:
        raise InputError(
            "no paste film of this side", file=source, found=", ".join(sides) or "none", expected=f"{side}, or --side"
        )
    films = sides[side]
    return Apertures(films.x_mm, films.y_mm, films.area_mm2, films.wall_mm)


def _show(out: Console, taken: InspectionColumns | None, checks: PlacementChecks | None) -> None:
    if taken is None and checks is None:
        return
    out.print("columns:", markup=False)
    for field, heading in (taken.table() if taken else {}).items():
        assumed = "  (unit taken so)" if taken and field in taken.assumed else ""
        out.print(f"  {field:<14} {heading}{assumed}", markup=False)
    for field, heading in (checks.columns if checks else {}).items():
        out.print(f"  {field:<14} {heading}", markup=False)
    if taken and taken.passed:
        out.print(f"  not used       {', '.join(taken.passed[:12])}", style="dim", markup=False)
