"""`landwise outlines`: the catalogue."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

if TYPE_CHECKING:
    from landwise.errors import LandwiseError
    from landwise.lands import LandPattern
    from landwise.outlines import Outline

_TITLES = {
    "pitch_mm": "pitch",
    "pitch_across_mm": "pitch across",
    "end_pitch_mm": "pitch at the ends",
    "body_width_mm": "body across",
    "body_length_mm": "body along",
    "span_mm": "span",
    "span_length_mm": "span along",
    "foot_mm": "foot",
    "terminal_width_mm": "terminal width",
    "terminal_thickness_mm": "terminal thickness",
    "row_spacing_mm": "row spacing",
    "exposed_length_mm": "exposed pad along",
    "exposed_width_mm": "exposed pad across",
    "package_land_mm": "package's land",
    "height_mm": "height",
    "standoff_mm": "standoff",
    "absent": "empty places",
}


@click.group("outlines", invoke_without_command=True)
@click.option("--family", default=None, help="Only one family, such as 'leadless quad'.")
@click.option("--terminals", type=int, default=None, help="Only outlines with so many terminals.")
@click.pass_context
def command(ctx: click.Context, family: str | None, terminals: int | None) -> None:
    """List the catalogue's outlines; show, draw and check single ones.

    Example: landwise outlines --terminals 14
    """
    from landwise.memory import keep_in_cache_folder

    keep_in_cache_folder()
    if ctx.invoked_subcommand:
        return
    from landwise.errors import InputError
    from landwise.outlines import FAMILIES, catalogue
    from landwise.outlines.marks import RANKS, tally

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
        f"{len(found)} outlines. body: across the rows × along them; height: largest; mark: how far the weakest"
        " dimension was read that lands, joints or heights use"
    )
    if found:
        counts = tally(found)
        for mark in RANKS:
            if counts.dimensions.get(mark):
                click.echo(
                    f"  {mark}: {counts.outlines.get(mark, 0)} outlines, {counts.dimensions[mark]} dimensions"
                    f" ({counts.dimension_share(mark):.0%})"
                )


@command.command("show")
@click.argument("name")
@click.option("--own", default=None, metavar="FILE", help="A TOML file with your own outlines.")
@click.option("--terminals", type=int, default=None, help="Of a maker's package letters, only so many terminals.")
@click.option(
    "-o",
    "--out",
    "folder",
    default=None,
    help="Write the land pattern here: a drawing (SVG, PDF) and a footprint file.",
)
@click.option("--style", default="auto", show_default=True, help="auto | goals | pad-for-pad | published")
@click.option("--level", default="nominal", show_default=True, help="most | nominal | least")
def show(name: str, own: str | None, terminals: int | None, folder: str | None, style: str, level: str) -> None:
    """Dimensions with tolerances, sources, and the land pattern of one outline.

    NAME is an outline's name, one of its other names, a maker's package letters or a drawing's number.
    """
    from landwise.lands import land_pattern
    from landwise.outlines import examine_outlines
    from landwise.study.file import read_text

    mine, faults = examine_outlines(read_text(Path(own), 2_000_000), file=own) if own else ((), ())
    if faults and name not in {outline.name for outline in mine}:
        _refuse(faults)  # a sound outline is shown, whatever else the file holds; `check` looks at all
    for outline in _meant(name, terminals, mine):
        _tell(outline)
        # `land_pattern` refuses a word that it does not know.
        pattern = land_pattern(outline, style=style, level=level)  # type: ignore[arg-type]
        _tell_lands(pattern)
        if folder:
            _draw(outline, pattern, Path(folder))


def _meant(name: str, terminals: int | None, own: tuple[Outline, ...]) -> list[Outline]:
    """The outlines that a name leads to; says so where it is not an outline's own name."""
    from landwise.fabdata.packageoutlines import outline_for
    from landwise.fabdata.packages import read_package
    from landwise.outlines import find, naming

    found = naming(name, terminals, own)
    for named in found:
        if named.by != "name":
            click.echo(f"{name}: {named.by} of house {named.house} for {named.outline.name} ({named.mark})")
    if found:
        return [named.outline for named in found]
    reading = read_package(name)
    outline, assumed = outline_for(reading, terminals) if reading else (None, "")
    if outline is None:
        return [find(name, own)]  # says which names are near
    click.echo(f"{name}: read as {outline.name}" + (f"; {assumed}" if assumed else ""))
    return [outline]


def _tell(o: Outline) -> None:
    from landwise.evidence import source
    from landwise.outlines.marks import readings

    click.echo(
        f"{o.name}: {o.family}, {o.terminals} terminals, pitch {o.pitch_mm:g} mm"
        + (f", {o.standard}" if o.standard else "")
    )
    marks = {reading.dimension: reading for reading in readings(o)}
    for key, title in _TITLES.items():
        value = getattr(o, key)
        if value is None or value == ():
            continue
        title = "ball" if key == "terminal_width_mm" and o.columns else title
        text = value.text() if hasattr(value, "text") else ", ".join(value) if key == "absent" else f"{value:g}"
        unit = "" if key == "absent" else " mm"
        reading = marks.get(key)
        told = f"{reading.mark}{f', {reading.kind}' if reading.kind else ''}" if reading else ""
        told += f", only its {reading.only} read" if reading and reading.only else ""
        click.echo(f"  {title:<20} {text + unit:<22} {told}".rstrip())
    for key, drawn in o.drawn.items():
        each = "; ".join(f"{limits.text()} ({source(by).title.split(',')[0]})" for by, limits in drawn.items())
        click.echo(f"  drawings of the {_TITLES[key]}: {each}")
    if o.terminal_thickness_mm:
        click.echo(f"  {'lead metal':<20} {o.lead_metal}")
    if o.weight_mg:
        click.echo(f"  {'weight':<20} {o.weight_mg:g} mg ({o.weight_mark})")
    if o.note:
        click.echo(f"  note: {o.note}")
    click.echo(f"  mark: {o.mark}")
    for key in o.sources:
        click.echo(f"  source: {_source_text(key)}")


def _source_text(key: str) -> str:
    from landwise.evidence import all_sources

    known = all_sources().get(key)
    return f"{known.title}; {known.where} ({known.mark})" if known else key


def _tell_lands(pattern: LandPattern) -> None:
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


def _draw(outline: Outline, pattern: LandPattern, folder: Path) -> None:
    from landwise.fabdata.footprints import ENDING, footprint
    from landwise.joints.mounted import mounted
    from landwise.joints.standing import ball_stand
    from landwise.printing import print_part
    from landwise.printing.model import Foil
    from landwise.sheets.files import ready_folder, write_together
    from landwise.sheets.landsheet import land_drawing
    from landwise.sheets.pdf import if_installed, left_out, svg_pdf_bytes
    from landwise.sheets.solder import part_solder

    printed = print_part(pattern, Foil(100), outline=outline)
    stand = ball_stand(outline, pattern, printed)
    solder = part_solder(outline, stand, mounted(outline, pattern, printed, stand))
    svg = land_drawing(outline, pattern, printed, solder=solder)
    ready_folder(folder)
    files = {
        f"{outline.name}.svg": svg.encode(),
        **if_installed({f"{outline.name}.pdf": lambda: svg_pdf_bytes(svg)}),
        f"{outline.name}{ENDING}": footprint(outline, pattern, printed).encode(),
    }
    write_together(folder, files)
    for name in files:
        click.echo(f"wrote {folder / name}")
    if without := left_out(folder):
        click.echo(f"landwise: {without}", err=True)


@command.command("check")
@click.argument("file")
def check(file: str) -> None:
    """Check a TOML file of your own outlines; every fault is named with its place."""
    from landwise.errors import LandwiseError
    from landwise.lands import land_pattern
    from landwise.outlines import examine_outlines
    from landwise.study.file import read_text

    found, faults = examine_outlines(read_text(Path(file), 2_000_000), file=file)
    for outline in found:
        try:
            pattern = land_pattern(outline)
        except LandwiseError as error:
            faults = (*faults, error.within(file=file))
            continue
        click.echo(
            f"{outline.name}: {outline.family}, {outline.terminals} terminals, courtyard {pattern.courtyard_mm[0]:g} ×"
            f" {pattern.courtyard_mm[1]:g} mm: fine"
        )
    if faults:
        _refuse(faults)


def _refuse(faults: tuple[LandwiseError, ...]) -> NoReturn:
    """Tell every fault at once; the last one as the command's own error."""
    for fault in faults[:-1]:
        click.echo(f"landwise: {fault}", err=True)
    raise faults[-1]
