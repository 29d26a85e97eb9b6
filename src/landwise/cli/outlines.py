"""`landwise outlines`: the catalogue."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from landwise.lands import LandPattern
    from landwise.outlines import Outline


@click.group("outlines", invoke_without_command=True)
@click.option("--family", default=None, help="Only one family, such as 'leadless quad'.")
@click.option("--terminals", type=int, default=None, help="Only outlines with so many terminals.")
@click.pass_context
def command(ctx: click.Context, family: str | None, terminals: int | None) -> None:
    """List the catalogue's outlines; show, draw and check single ones.

    Example: landwise outlines --terminals 14
    """
    if ctx.invoked_subcommand:
        return
    from landwise.errors import InputError
    from landwise.outlines import FAMILIES, catalogue

    if family is not None and family not in FAMILIES:
        raise InputError("unknown family", found=family, expected=" | ".join(FAMILIES))
    found = [o for o in catalogue().values() if (family in (None, o.family)) and (terminals in (None, o.terminals))]
    click.echo(f"{'name':<18} {'family':<16} {'n':>4} {'pitch':>6} {'body mm':>15} {'height':>7}  {'mark':<12} also")
    for o in found:
        body = f"{o.body_width_mm.nom:g} × {o.body_length_mm.nom:g}"
        click.echo(
            f"{o.name:<18} {o.family:<16} {o.terminals:>4} {o.pitch_mm:>6g} {body:>15} {o.height_mm.max:>7g} "
            f" {o.mark:<12} {', '.join(o.also[:3])}"
        )
    click.echo(
        f"{len(found)} outlines. body: across the rows × along them; height: largest; mark: how far the source was read"
    )


@command.command("show")
@click.argument("name")
@click.option("--own", default=None, metavar="FILE", help="A TOML file with your own outlines.")
@click.option("-o", "--out", "folder", default=None, help="Write the land-pattern drawing here, as SVG and PDF.")
@click.option("--style", default="auto", show_default=True, help="auto | goals | pad-for-pad | published")
@click.option("--level", default="nominal", show_default=True, help="most | nominal | least")
def show(name: str, own: str | None, folder: str | None, style: str, level: str) -> None:
    """Dimensions with tolerances, sources, and the land pattern of one outline."""
    from landwise.evidence import source
    from landwise.lands import land_pattern
    from landwise.outlines import find, read_outlines
    from landwise.study.file import read_text

    mine = read_outlines(read_text(Path(own), 2_000_000), file=own) if own else ()
    o = find(name, mine)
    click.echo(
        f"{o.name}: {o.family}, {o.terminals} terminals, pitch {o.pitch_mm:g} mm"
        + (f", {o.standard}" if o.standard else "")
    )
    for title, value in (
        ("body across", o.body_width_mm),
        ("body along", o.body_length_mm),
        ("span", o.span_mm),
        ("foot", o.foot_mm),
        ("terminal width" if not o.columns else "ball", o.terminal_width_mm),
        ("terminal thickness", o.terminal_thickness_mm),
        ("row spacing", o.row_spacing_mm),
        ("exposed pad along", o.exposed_length_mm),
        ("exposed pad across", o.exposed_width_mm),
        ("height", o.height_mm),
        ("standoff", o.standoff_mm),
    ):
        if value is not None:
            click.echo(f"  {title:<20} {value.text()} mm")
    if o.weight_mg:
        click.echo(f"  {'weight':<20} {o.weight_mg:g} mg ({o.weight_mark})")
    if o.note:
        click.echo(f"  note: {o.note}")
    click.echo(f"  mark: {o.mark}")
    for key in o.sources:
        click.echo(f"  source: {source(key).title}; {source(key).where} ({source(key).mark})")
    pattern = land_pattern(o, style=style, level=level)  # type: ignore[arg-type]
    click.echo(
        f"lands by {pattern.style}, level {pattern.level}: courtyard {pattern.courtyard_mm[0]:g} ×"
        f" {pattern.courtyard_mm[1]:g} mm, least gap {pattern.least_copper_gap_mm:.3f} mm, mask web"
        f" {pattern.least_web_mm:.3f} mm"
    )
    for bind in pattern.binds:
        click.echo(f"  {bind.rule}: {bind.says}")
    for land in pattern.lands[:1] + pattern.lands[-1:]:
        place = land.place
        hole = f", hole {land.hole_mm:g}" if land.hole_mm else ""
        click.echo(
            f"  land {land.terminal}: {place.shape.length_mm:.3f} × {place.shape.width_mm:.3f} mm at ({place.x_mm:.3f},"
            f" {place.y_mm:.3f}){hole}"
        )
    if folder:
        _draw(o, pattern, Path(folder))


def _draw(outline: Outline, pattern: LandPattern, folder: Path) -> None:
    from landwise.joints.mounted import mounted
    from landwise.joints.standing import ball_stand
    from landwise.printing import print_part
    from landwise.printing.model import Foil
    from landwise.sheets.files import write_atomic
    from landwise.sheets.landsheet import land_drawing
    from landwise.sheets.pdf import svg_pdf_bytes
    from landwise.sheets.report import ready_folder
    from landwise.sheets.solder import part_solder

    printed = print_part(pattern, Foil(100), outline=outline)
    stand = ball_stand(outline, pattern, printed)
    solder = part_solder(outline, stand, mounted(outline, pattern, printed, stand))
    svg = land_drawing(outline, pattern, printed, solder=solder)
    pdf = svg_pdf_bytes(svg)
    ready_folder(folder)
    for path, content in ((folder / f"{outline.name}.svg", svg.encode()), (folder / f"{outline.name}.pdf", pdf)):
        write_atomic(path, content)
        click.echo(f"wrote {path}")


@command.command("check")
@click.argument("file")
def check(file: str) -> None:
    """Check a TOML file of your own outlines; the first fault is named with its place."""
    from landwise.lands import land_pattern
    from landwise.outlines import read_outlines
    from landwise.study.file import read_text

    found = read_outlines(read_text(Path(file), 2_000_000), file=file)
    for outline in found:
        pattern = land_pattern(outline)
        click.echo(
            f"{outline.name}: {outline.family}, {outline.terminals} terminals, courtyard {pattern.courtyard_mm[0]:g} ×"
            f" {pattern.courtyard_mm[1]:g} mm: fine"
        )
