"""`landwise review`: the stencil of a finished board."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from landwise.untyped import Fields

if TYPE_CHECKING:
    from collections.abc import Mapping

    from landwise.cli.screen import Console, Text
    from landwise.evidence.figures import Verdict
    from landwise.printing.model import Powder
    from landwise.review.comparing import SideCompared
    from landwise.review.jobs import ReadBoard
    from landwise.review.model import Array, Proposal
    from landwise.review.reviews import Asked, Review, SideReview
    from landwise.sheets.reviewreport import More, WrittenReview

LEVELS = ("fails", "marginal", "never")


@click.command("review")
@click.argument("source", metavar="FOLDER_ZIP_OR_FILE")
@click.option("-o", "--out", "folder", default="out", show_default=True, help="Folder for the report and its files.")
@click.option(
    "--layer",
    "layers",
    multiple=True,
    metavar="ROLE=FILE",
    help="Say what a file is, e.g. paste-top=board.gtp. Repeatable; outranks what is recognised.",
)
@click.option(
    "--line",
    "line_name",
    default="ordinary",
    show_default=True,
    metavar="NAME",
    help="Assembly line: ordinary, fine, bench, or a line file (LINE.toml).",
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
@click.option("--rules", default=None, metavar="FILE", help="Your rules for corrected openings, on top of ours.")
@click.option("--decisions", default=None, metavar="FILE", help="Your answers to earlier proposals; obeyed.")
@click.option(
    "--apply",
    type=click.Choice(("none", "safe", "all")),
    default="none",
    show_default=True,
    help="Which proposals to write into a corrected layer: none but those accepted, those nobody would object to, all.",
)
@click.option("--against", default=None, metavar="OLD", help="An older revision to hold this one against.")
@click.option(
    "--panel", default=None, metavar="'3x4 gap 2'", help="Build a panel's paste layers: columns x rows, gap in mm."
)
@click.option(
    "--no-panel", is_flag=True, help="Review all that a film draws, even where one board seems to come again."
)
@click.option(
    "--most-openings",
    default=200_000,
    show_default=True,
    type=click.IntRange(1, 5_000_000),
    help="Refuse larger paste films; each opening takes some 10 kB.",
)
@click.option(
    "--most-kinds",
    default=600,
    show_default=True,
    type=click.IntRange(1, 1_000_000),
    help="Count joints for so many kinds of part, those with most openings first; prints for the others.",
)
@click.option(
    "--most-seconds",
    default=900,
    show_default=True,
    type=click.IntRange(1, 1_000_000),
    help="Do what there is time for and say what is left undone; stop with a message after this long.",
)
@click.option(
    "--fail-on",
    "fail_on",
    type=click.Choice(LEVELS),
    default="fails",
    show_default=True,
    help="Exit with 1 from this level of finding on.",
)
@click.option("--many", is_flag=True, help="Review every folder and zip in the folder; a table with one row each.")
@click.option(
    "-j",
    "--jobs",
    type=click.IntRange(1),
    default=None,
    help="Processes for --many, or for the joints of one board; all cores unless given.",
)
@click.option("--json", "as_json", is_flag=True, help="Print review.json on standard output; write no files.")
# click hands every option over by its name, each of a type of its own
def command(source: str, folder: str, **stated: Any) -> int:
    """Review a board's stencil from its fabrication files.

    Reads the Gerber layers, drill, placement and bill of a folder or zip, or one file that holds a whole board
    (IPC-2581, .kicad_pcb); judges every aperture under every foil; proposes corrections and lists them; writes
    report.html, review.json, findings.csv, changes.csv, decisions.toml, with the extra [pdf] report.pdf and order.pdf,
    with --apply or accepted decisions the corrected paste layers, and the zones of a step that pays.
    Ends with 0 where nothing is found, 1 from the chosen level on, 2 for unreadable input.

    With --many the boards of a folder are reviewed one by one, as many at once as there are processes: table.csv (and
    table.parquet), one row a board. It goes on where it was stopped; a board whose files changed is reviewed again.

    Example: landwise review gerbers.zip -o out/ --fail-on marginal
    """
    if stated["many"]:
        from landwise.cli.reviewmany import review_many
        from landwise.cli.study import cores

        _alone_only(stated)
        return review_many(source, folder, stated, stated["jobs"] or cores())
    import gc

    from landwise.cli.terminal import console
    from landwise.judging.namedline import named_line
    from landwise.memory import keep_in_cache_folder
    from landwise.review.jobs import read_board
    from landwise.review.reviewfile import review_text
    from landwise.review.reviews import review
    from landwise.sheets.files import check_folder

    if not stated["as_json"]:
        check_folder(Path(folder))
    keep_in_cache_folder()
    gc.disable()  # a board makes millions of small objects and frees few: collecting them costs a fifth of the time
    line = named_line(stated["line_name"])
    read = read_board(Path(source), _overrides(stated["layers"]), stated["most_openings"], once=not stated["no_panel"])
    result = review(read.board, line, _asked(stated))
    read, result = _without_ground(read, result)
    if stated["as_json"]:
        click.echo(review_text(result), nl=False)
    else:
        from landwise.review.filmsout import films, writable
        from landwise.sheets.reviewreport import write_review

        result = writable(result, read)
        layers_out, more = _more(result, read, stated, dict(films(result, read)))
        written = write_review(result, Path(folder), layers_out, more)
        _print(result, written, console())
    levels, fail_on = {finding.level for finding in result.findings}, stated["fail_on"]
    return int(fail_on != "never" and ("fails" in levels or (fail_on == "marginal" and "marginal" in levels)))


def _without_ground(read: ReadBoard, result: Review) -> tuple[ReadBoard, Review]:
    """Both without the films of copper and mask: nothing looks at them once lands are known, and reports need room."""
    from dataclasses import replace

    from landwise.heap import give_back

    board = replace(read.board, sides=tuple(replace(side, copper=None, mask=None) for side in read.board.sides))
    read, result = replace(read, board=board), replace(result, board=board)
    give_back(sum(len(side.given.paste) for side in result.sides))
    return read, result


def _alone_only(stated: Fields) -> None:
    """What concerns one board can't be asked of many."""
    given = {
        "--layer": "layers",
        "--rules": "rules",
        "--decisions": "decisions",
        "--against": "against",
        "--panel": "panel",
    }
    given |= {"--foils": "foils", "--powder": "powder", "--json": "as_json"}
    given["--no-panel"] = "no_panel"
    asked = [option for option, name in given.items() if stated[name]]
    asked += ["--apply"] if stated["apply"] != "none" else []
    if asked:
        raise click.UsageError(f"--many reviews each board as it is: {', '.join(asked)} can only be asked of one board")


def _more(result: Review, read: ReadBoard, stated: Fields, layers: dict[str, bytes]) -> tuple[dict[str, bytes], More]:
    """An older revision held against, and a panel built."""
    from landwise.review.comparing import compare
    from landwise.review.jobs import read_board
    from landwise.review.panels import arranged, fiducial_layer, panel_film
    from landwise.review.reviews import review
    from landwise.sheets.reviewreport import More

    compared: tuple[SideCompared, ...] = ()
    if stated["against"]:
        old = review(
            read_board(Path(stated["against"]), {}, once=not stated["no_panel"]).board, result.line, result.asked
        )
        compared = compare(result, old)
    array: Array | None = None
    places: tuple[tuple[float, float], ...] = ()
    if stated["panel"]:
        for side in result.sides:
            _one_board(side, read.films[side.side].layer.file)
            array, places = arranged(side.after.polygon, read.board.outline, stated["panel"])
            own = layers.get(f"paste-{side.side}.gbr")
            layers[f"panel-{side.side}.gbr"] = panel_film(read.films[side.side], side, array, own)
        layers["fiducials.gbr"] = fiducial_layer(places)
    return layers, More(compared, array, places)


def _one_board(side: SideReview, file: str) -> None:
    """A film of several boards is no board to build a panel of."""
    from landwise.errors import InputError

    if side.array is not None:
        raise InputError(
            "the film is of a panel already",
            file=file,
            place="--panel",
            found=f"{side.array.columns} × {side.array.rows} boards",
            expected="films of one board",
        )


def _asked(stated: Fields) -> Asked:
    from landwise.cli.study import cores
    from landwise.quantities import parse
    from landwise.review.decisions import read_decisions
    from landwise.review.mending.rules import with_rules
    from landwise.review.reviews import Asked

    foils = stated["foils"]
    thick = tuple(parse(text.strip(), "thin length", place="--foils") for text in foils.split(",")) if foils else ()
    paths = {name: Path(stated[name]) if stated[name] else None for name in ("rules", "decisions")}

    going, left = _within(stated["most_seconds"])
    return Asked(
        thick,
        _powder(stated["powder"]),
        stated["run"],
        with_rules(paths["rules"]),
        read_decisions(paths["decisions"]),
        stated["apply"],
        going,
        stated["most_kinds"],
        left,
        stated["jobs"] or cores(),
    )


def _within(seconds: int) -> tuple[Callable[[str], None], Callable[[], float]]:
    """Stops a review that takes longer than it was given, and tells it how long it has."""
    import time

    from landwise.errors import InputError

    end = time.monotonic() + seconds

    def left() -> float:
        return end - time.monotonic()

    def going(stage: str) -> None:
        if left() < 0:
            raise InputError(
                "the review takes longer than it was given", place=stage, expected=f"--most-seconds above {seconds}"
            )

    return going, left


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


def _powder(text: str | None) -> Powder | None:
    from landwise.errors import InputError
    from landwise.printing.model import POWDERS

    if text is None:
        return None
    powder = text.upper()
    if powder not in POWDERS:
        raise InputError("unknown powder", place="--powder", found=text, expected=" | ".join(POWDERS))
    return powder


def _print(result: Review, written: WrittenReview, out: Console) -> None:
    from landwise.cli.screen import Column, Table, Text
    from landwise.cli.terminal import verdict_text
    from landwise.review.checks import KEYS
    from landwise.review.foilchoice import counted_says
    from landwise.sheets.pdf import left_out
    from landwise.sheets.reviewcontent import expected, panel

    out.print(Text(result.board.name, style="bold").append(f": line {result.line.name!r}, {result.powder} powder"))
    for text in result.board.reading:
        out.print(f"  {text}", style="dim")
    if panel(result):
        out.print(panel(result))
    for side in result.sides:
        out.print()
        out.print(f"{side.side}: {len(side.given.paste)} apertures, {len(side.parts)} parts; {side.choice.says}")
        names = ("foil", "openings hold", "marginal", "fail", "least area ratio", "defects a board", "corrected")
        table = Table([Column(name, "right") for name in names])
        for row in side.choice.rows:
            mark = " →" if row.foil_um == side.choice.best_um else " =" if row.foil_um in side.choice.equal_um else ""
            table.add_row(
                f"{row.foil_um:g} µm{mark}",
                *(str(count) for count in (row.holds, row.marginal, row.fails)),
                f"{row.least_ratio:.2f}",
                expected(row.defects, row.defects_low, row.defects_high),
                expected(row.after, row.after_low, row.after_high),
            )
        out.print(table)
        out.print(f"{counted_says(side.choice.best)}.", style="dim")
        _causes(side, out, KEYS, verdict_text)
        _proposals(side, out)
    for note in result.notes:
        out.print(f"note: {note}", style="dim")
    out.print()
    out.print(f"report: {written.folder / 'report.html'}")
    out.print(f"        {', '.join(name for name in written.names if name != 'report.html')}", style="dim")
    if without := left_out(written.folder):
        out.print(without)


def _causes(
    side: SideReview, out: Console, keys: Mapping[str, str], verdict_text: Callable[[Verdict], Text], most: int = 10
) -> None:
    from landwise.cli.screen import Column, Table, Text
    from landwise.review.causes import causes, named

    found = causes(side)
    if not found:
        out.print("nothing to mend")
        return
    table = Table([Column("", no_wrap=True), Column("", no_wrap=True), Column("", most=34), Column("")], heads=False)
    for cause in found[:most]:
        what = f"{cause.package or 'several kinds'}: {named(cause.parts, 3)}" if cause.parts else cause.package or "–"
        table.add_row(verdict_text(cause.level), keys[cause.key], Text(what), Text(cause.worst.says))
    out.print(table)
    if len(found) > most:
        out.print(f"and {len(found) - most} more causes; every finding stands in findings.csv", style="dim")


def _proposals(side: SideReview, out: Console, most: int = 12) -> None:
    """What is proposed, and what is asked about, the reason for asking once for all it holds for."""
    groups: dict[str, list[Proposal]] = {}
    for one in side.proposals[:most]:
        groups.setdefault(one.asked, []).append(one)
    for asked in sorted(groups, key=bool):
        if asked:
            out.print(f"ask first, because {asked}:")
        else:
            out.print("proposed, and nobody is likely to mind (--apply safe writes them):")
        for one in groups[asked]:
            out.print(f"  {_proposal(one)}")
    if len(side.proposals) > most:
        out.print(f"and {len(side.proposals) - most} more corrections (report, changes.csv)", style="dim")
    if side.written:
        count = len(side.written)
        out.print(f"{count} opening{'s' if count > 1 else ''} changed in paste-{side.side}.gbr")


def _proposal(one: Proposal) -> str:
    """A proposal in a line: whose opening, what, why, and what it does."""
    from landwise.review.causes import named
    from landwise.sheets.reviewcontent import small

    who = named(one.parts, 3) or one.package or "no part"
    does = ""
    if one.defects_before is not None and one.defects_after is not None and one.defects_before >= 5e-4:
        does = f"; defects {small(one.defects_before)} → {small(one.defects_after)} a board"
    elif one.rejects_before >= 5e-4:
        does = f"; prints rejected {small(one.rejects_before)} → {small(one.rejects_after)} a board"
    return f"{who}: {one.what} ({one.reason}){does}"
