"""`landwise compare`: one part from flags alone, and its card."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from landwise.board.result import BoardResult


@click.command("compare")
@click.option(
    "--function", default="", help='In words: "2-input AND gate", "octal buffer"; gives the terminals where it can.'
)
@click.option("--number", default="", help="Generic number such as 74LVC1G08, instead of function and terminals.")
@click.option("--terminals", type=click.IntRange(1, 2000), default=None, help="Terminals the function needs.")
@click.option("--present", default="", help="The outline in use today.")
@click.option(
    "--options",
    "offered",
    default=None,
    help='Outlines with prices: "TSSOP-14=0.11, SO-14=0.09". Otherwise the catalogue proposes.',
)
@click.option("--line", "line_name", default="ordinary", show_default=True, help="ordinary | fine | bench | LINE.toml")
@click.option("--foil", default=None, help='The foil, such as "80 um".')
@click.option("--foils", default=None, help='Foils on hand, such as "80 um, 100 um".')
@click.option("--thickest-foil", default=None, help='What the finest other part bears of it, such as "125 um".')
@click.option("--reduction", default=None, help='Taken off every edge of a land for its aperture, such as "20 um".')
@click.option("--print", "print", default=None, help='"designed" openings for every foil, or "as lands".')
@click.option(
    "--design", default=None, help='"print": openings alone are designed; "lands": lands inside their goals too.'
)
@click.option("--print-offset", default=None, help='What 99.7 % of prints stay within, such as "25 um".')
@click.option("--placement-offset", default=None, help='What 99.7 % of placements stay within, such as "40 um".')
@click.option("--least-pitch", default=None, help='Finest pitch the line places, such as "0.35 mm".')
@click.option("--inspection", default=None, help='What can be looked at: "optical, side view, x-ray".')
@click.option("--hidden-joints", default=None, help="as the line sees | never | any")
@click.option("--terminals-should-be", default=None, help="either | exposed | hidden")
@click.option("--voltage", default=None, help='Highest voltage between neighbours, such as "5 V".')
@click.option("--air", default=None, help="At the board: dry | humid | wet")
@click.option("--coat", default=None, help="Conformal coat: none | acrylic | epoxy | urethane | silicone | vapour")
@click.option(
    "--environment", default=None, help="Where the product lives: consumer | telecom | industrial | under-hood | …"
)
@click.option("--swing", default=None, help='Its widest temperature cycle, such as "50 K"; the others in proportion.')
@click.option("--years", type=float, default=None, help="Years the joints should last.")
@click.option("--power", default=None, help='What the part gives off while it is on, such as "20 mW".')
@click.option("--profile", default=None, help="Powered hours at temperatures, by name: maker-automotive | cabin | …")
@click.option("--hours", default=None, help='Or your own: "20000 h at 25 degC, 9000 h at 55 degC".')
@click.option("--hours-of", default=None, help="Whose temperature those are: junction | air")
@click.option("--switched", type=float, default=None, help="How often a year the product is switched on and off.")
@click.option("--off", default=None, help='Hours without power, of the whole life: "58000 h at 15 degC".')
@click.option("--stored", default=None, help='Hours on the shelf after assembly: "2000 h at 25 degC".')
@click.option("--state", default=None, help="new | existing: on an existing board another package costs a change.")
@click.option("--layers", type=int, default=None, help="Copper layers of the board.")
@click.option("--thickness", default=None, help='Of the board, such as "0.8 mm".')
@click.option("--drilled-anyway", is_flag=True, default=None, help="Other parts of the board are drilled already.")
@click.option(
    "--gates",
    type=click.IntRange(1, 8),
    default=None,
    help="So many gates near each other: in how many packages they should come.",
)
@click.option("--net-cost", type=float, default=None, help="With --gates: money for a net led to another place.")
@click.option("--run", type=int, default=None, help="Boards to be built.")
@click.option("--max-height", default=None, help='Tallest part allowed, such as "1.2 mm".')
@click.option("--supply", default=None, help="Packages that may be chosen: likely | seen | any")
@click.option(
    "--limit",
    "limits",
    multiple=True,
    metavar="NAME=VALUE",
    help="Limit of a figure, such as life=15 (years); may be repeated.",
)
@click.option(
    "--weight", "weights", multiple=True, metavar="NAME=VALUE", help="Weight of a criterion; may be repeated."
)
@click.option("-o", "--out", "folder", default=None, help="Write the card here as card.svg, card.pdf and card.png.")
@click.option("--title", default="", help="Your own title: with -o also slide.svg, .pdf and .png, the card on 16:9.")
@click.option("--grey", is_flag=True, help="That slide in black and white.")
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
def command(
    folder: str | None,
    as_json: bool,
    title: str,
    grey: bool,
    weights: tuple[str, ...],
    limits: tuple[str, ...],
    **flags: object,
) -> None:
    """Settle one part from flags alone.

    Example: landwise compare --function "2-input gate" --terminals 5 --present SOT-23-5 -o out/
    """
    from landwise.board.ahead import helpers_for, work_ahead
    from landwise.board.choice import choose_board
    from landwise.board.model import board_bench
    from landwise.cli.study import cores
    from landwise.judging.study import run_study
    from landwise.memory import Memory, keep_in_cache_folder
    from landwise.sheets.files import check_folder
    from landwise.study.file import study_from
    from landwise.study.linefile import with_line_file
    from landwise.study.question import limit, study_data, weight

    if folder:
        check_folder(Path(folder))
    asked = {
        **flags,
        "weights": dict(weight(text) for text in weights),
        "limits": dict(limit(text) for text in limits),
    }
    named = str(asked.pop("line_name"))
    from_file = named.endswith(".toml")
    data = study_data({**asked, "line": "ordinary" if from_file else named})
    if from_file:
        # What flags say stands before the file, and the file before the preset.
        own = {key: value for key, value in data.get("line", {}).items() if key != "preset"}
        data = with_line_file({**data, "line": {**own, "file": named}}, Path())
    keep_in_cache_folder()
    study = study_from(data, file="flags")
    memory = Memory.left_by(study.board_key)
    with helpers_for(study, cores()) as helpers:
        work_ahead(study, helpers, memory)
    result = choose_board(run_study(study, bench=board_bench(study, memory)), memory=memory)
    if as_json:
        from landwise.results.file import result_text

        click.echo(result_text(result), nl=False)
    else:
        _print(result)
    if folder:
        _card(result, Path(folder), title, grey=grey, quiet=as_json)
    memory.leave(study.board_key)


def _print(result: BoardResult) -> None:
    from landwise.cli.screen import Text
    from landwise.cli.terminal import (
        console,
        left_out_lines,
        options_table,
        print_cautions,
        print_grouping,
        under_table,
    )
    from landwise.judging.notes import NoteKey
    from landwise.results.answer import hangs_on, sure_line
    from landwise.results.notewords import notes_say
    from landwise.results.told import asked, board_cautions, unshown_lives
    from landwise.results.weighed import weighed_says
    from landwise.sheets.cards import title_of

    out, part = console(), result.parts[0]
    print_grouping(out, result)
    for other in result.parts[1:]:
        out.print(title_of(other), style="bold")
        out.print(options_table(other, limit=6))
        for line in left_out_lines(other, limit=6):
            out.print(f"left out: {line}", style="dim")
        out.print()
    head = Text(title_of(part), style="bold")
    out.print(head.append(f", line {result.line.name!r}, foil {result.line.foil_um:g} µm"))
    print_cautions(out, board_cautions(result.parts, result.content))
    out.print()
    table = options_table(part, limit=14)
    if table.columns[0].cells:
        out.print(table)
    for line in under_table(part, limit=14):
        out.print(line, style="dim")
    out.print()
    out.print(part.says)
    out.print(part.runner_up)
    answer = result.choice.answer if result.choice else None
    if answer is not None and answer.parts:
        out.print(sure_line(answer.parts[0], part, result.content.costs.unit))
    weighed = weighed_says(result)
    if weighed:
        out.print(weighed)
    for line in hangs_on(result)[:3]:
        out.print(f"hangs on: {line}")
    unshown = unshown_lives([part], result.content)
    if unshown:
        out.print(unshown, style="dim")
    for question in asked(result):
        out.print(f"asked: {question}", style="dim")
    for note in notes_say(note for note in part.notes if note.key != NoteKey.NOT_SEEN):  # said under the table
        out.print(f"note: {note}", style="dim")
    out.print("Supports a decision; does not replace qualification or the assembler's own data.", style="dim")


def _card(result: BoardResult, folder: Path, title: str, *, grey: bool, quiet: bool) -> None:
    from landwise.results.answer import reply
    from landwise.sheets.cards import card_of
    from landwise.sheets.files import ready_folder, write_together
    from landwise.sheets.pdf import if_installed, left_out, svg_pdf_bytes, svg_png_bytes
    from landwise.sheets.slides import Pack, slide_files

    svg = card_of(result.parts[0], result.judged)
    made = {
        "card.svg": svg.encode(),
        **if_installed({"card.pdf": lambda: svg_pdf_bytes(svg), "card.png": lambda: svg_png_bytes(svg)}),
        "reply.txt": reply(result).encode(),
    }
    if title or grey:
        made |= slide_files({"slide": svg}, Pack(title, grey))
    ready_folder(folder)
    write_together(folder, made)
    if not quiet:
        click.echo(f"card: {', '.join(str(folder / name) for name in made)}")
    if without := left_out(folder):
        click.echo(f"landwise: {without}", err=True)
