"""`landwise review`: the stencil of a finished board."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from landwise.untyped import Fields

if TYPE_CHECKING:
    from landwise.printing.model import Powder
    from landwise.review.comparing import SideCompared
    from landwise.review.jobs import ReadBoard
    from landwise.review.model import Array
    from landwise.review.reviews import Asked, Review, SideReview
    from landwise.sheets.reviewreport import More

LEVELS = ("fails", "marginal", "never")

LATE = 0.5  # of the time given: what a review may take to finish what it has begun


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
    help="Do what there is time for and say what is left undone; stop with a message after half as long again.",
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

    from landwise.cli.reviewtold import tell
    from landwise.cli.terminal import console
    from landwise.heap import give_back
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
    give_back(sum(len(side.given.paste) for side in result.sides))
    if stated["as_json"]:
        click.echo(review_text(result), nl=False)
    else:
        from landwise.review.filmsout import films, writable
        from landwise.sheets.reviewreport import write_review

        result = writable(result, read)
        layers_out, more = _more(result, read, stated, dict(films(result, read)))
        written = write_review(result, Path(folder), layers_out, more)
        tell(result, written, more, console())
    levels, fail_on = {finding.level for finding in result.findings}, stated["fail_on"]
    return int(fail_on != "never" and ("fails" in levels or (fail_on == "marginal" and "marginal" in levels)))


def _without_ground(read: ReadBoard, result: Review) -> tuple[ReadBoard, Review]:
    """Both without the films of copper and mask: nothing looks at them once lands are known, and reports need room."""
    from dataclasses import replace

    board = replace(read.board, sides=tuple(replace(side, copper=None, mask=None) for side in read.board.sides))
    return replace(read, board=board), replace(result, board=board)


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
    """Tells a review how long it has, and stops it where it can't keep to that: one level may take seconds."""
    import time

    from landwise.errors import InputError

    end = time.monotonic() + seconds

    def left() -> float:
        return end - time.monotonic()

    def going(stage: str) -> None:
        if left() < -LATE * seconds:
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
