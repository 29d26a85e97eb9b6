"""`landwise study`: a whole board."""

from __future__ import annotations

import gc
import time
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from landwise.board.result import BoardResult
    from landwise.cli.screen import Console
    from landwise.sheets.report import Written


@click.command("study")
@click.argument("study_file", metavar="STUDY.toml")
@click.option("-o", "--out", "folder", default="out", show_default=True, help="Folder for the report and its files.")
@click.option("--part", "reference", default=None, help="Show one part's options in full, by its reference.")
@click.option("--json", "as_json", is_flag=True, help="Print result.json on standard output; write no files.")
@click.option(
    "--each",
    is_flag=True,
    help="Rank each part by itself, the others held at today's packages; no choice for the whole board.",
)
@click.option(
    "-j",
    "--jobs",
    type=click.IntRange(1),
    default=None,
    help="Processes for a large board and for designing prints; all cores unless given.",
)
@click.option(
    "--full", is_flag=True, help="Print all that is known of the choice, not only the ten lines of the answer."
)
@click.option(
    "--seconds",
    type=click.FloatRange(min=0, min_open=True),
    default=None,
    help="Time for judging, choosing and explaining; the best found by then is drawn.",
)
@click.option("--line", "line_file", default=None, metavar="LINE.toml", help="A line file; it stands before the study.")
@click.option("--slides", is_flag=True, help="Also every picture on a 16:9 page, as SVG, PDF and PNG in slides/.")
@click.option("--title", default="", help="Your own title over every slide.")
@click.option("--grey", is_flag=True, help="Slides in black and white.")
@click.option("--no-drawings", is_flag=True, help="Leave out the land patterns: drawings and Gerber layers.")
def command(
    study_file: str,
    folder: str,
    reference: str | None,
    jobs: int | None,
    seconds: float | None,
    line_file: str | None,
    title: str,
    **flags: bool,
) -> None:
    """Judge every package option of every logic part of a board, and choose for the whole board at once.

    The choice covers all parts and what they share: foil, steps, powder, inspection, board class. It is proven
    best within the study's limits. Ctrl-C keeps the best found at any moment, says how far it can be from the
    best, writes all files (while drawing: the data without pictures), and ends with exit code 130; a second one
    stops at once.

    Writes the answer and the open decisions as report.html, everything behind them as annex.html, with the extra
    [pdf] both as PDF too, with the extra [spreadsheets] the tables as tables.xlsx, and result.json, options.csv and,
    for each chosen outline, a land-pattern drawing and Gerber layers of copper, mask, paste and holes. Nothing is
    written unless all of it could be made.

    Example: landwise study board.toml -o out/
    """
    from landwise.board.ahead import helpers_for, work_ahead
    from landwise.board.choice import choose_board, rank_each
    from landwise.board.model import board_bench
    from landwise.cli.screen import Count
    from landwise.cli.terminal import console, stopping
    from landwise.errors import LandwiseError
    from landwise.judging.study import run_study
    from landwise.memory import Memory, keep_in_cache_folder
    from landwise.sheets.ahead import pictures_begun
    from landwise.sheets.files import check_folder
    from landwise.study.file import read_study

    as_json, each, full = flags["as_json"], flags["each"], flags["full"]
    writes = not as_json and reference is None
    if writes:
        check_folder(Path(folder))
    keep_in_cache_folder()
    study = read_study(study_file, line=line_file)
    # The same print comes up while judging, choosing, reporting, and in the next run.
    memory = Memory.left_by(study.board_key)
    gc.freeze()  # what was left stays until the end: it is not looked through for rubbish again and again
    try:
        bench = board_bench(study, memory)
    except LandwiseError as error:
        raise error.within(file=study.file) from None
    jobs = jobs or cores()
    with Count(console(stderr=True), "judging") as bar, helpers_for(study, jobs) as helpers:
        ends = time.monotonic() + (float("inf") if seconds is None else seconds)
        with stopping() as asked:

            def stop() -> bool:
                return asked() or time.monotonic() >= ends

            # Half of the time at most, so that some of it is left for judging what was designed.
            half = time.monotonic() + (ends - time.monotonic()) / 2
            work_ahead(study, helpers, memory, stop=lambda: stop() or time.monotonic() >= half, tell=bar.update)
            judged = run_study(
                study,
                bench=bench,
                progress=lambda done, total, name: bar.update(done, total, f"judging {name}"),
                stop=stop,
            )
            if each:
                result = rank_each(judged, memory=memory, jobs=jobs, stop=stop)
            else:
                result = choose_board(
                    judged,
                    stop=stop,
                    memory=memory,
                    jobs=jobs,
                    progress=bar.update,
                    early=partial(pictures_begun, helpers=helpers) if helpers.there and writes else None,
                )
            stopped = stop()
            by_hand = asked()
        if as_json:
            from landwise.results.file import result_text

            click.echo(result_text(result), nl=False)
            memory.leave(study.board_key)
            _end(stopped, by_hand, result)
            return
        if reference is None:
            from landwise.sheets.report import write_data, write_report
            from landwise.sheets.slides import Pack

            pack = Pack(title, flags["grey"]) if flags["slides"] else None
            bar.stop()
            _print(result, None, full)  # what it is asked for first: the files are drawn while it is read
            bar.say("drawing the report")
            try:
                written = write_report(result, Path(folder), drawings=not flags["no_drawings"], pack=pack)
            except KeyboardInterrupt:
                # The answer is there: it is kept without its pictures.
                write_data(result, Path(folder))
                bar.stop()
                click.echo(
                    f"landwise: stopped while drawing; {folder} holds result.json, options.csv, reply.txt", err=True
                )
                raise click.exceptions.Exit(130) from None
    if reference is None:
        _say_written(written)
    else:
        _print(result, reference, full)
    memory.leave(study.board_key)
    _end(stopped, by_hand, result)


def cores() -> int:
    """Processor cores this process may use."""
    import os

    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _end(stopped: bool, by_hand: bool, result: BoardResult) -> None:
    from landwise.judging.notes import NoteKey

    early = {NoteKey.NOT_JUDGED, NoteKey.STOPPED_EARLY} & {note.key for note in result.notes}
    if not (stopped or early):
        return
    word, choice = "stopped" if by_hand else "out of time", result.choice
    if early:
        said = f"{word} while judging: this is the best of what was judged, under today's line"
    elif choice is None:
        said = f"{word} before the whole board was chosen: each part is ranked by itself"
    elif choice.best.status == "optimal":
        said = f"{word} while explaining; the choice itself is proven, some explanations are missing"
    else:
        said = f"{word} while choosing; this is the best found so far, at most {choice.best.gap:.2%} from the best"
    click.echo(f"landwise: {said}", err=True)
    if by_hand:
        raise click.exceptions.Exit(130)


def _say_all(out: Console, result: BoardResult) -> None:
    from landwise.results.choice import choice_data
    from landwise.results.choicejson import ChoiceJson
    from landwise.results.choicewords import choice_lines

    for part in result.parts:
        out.print(f"{part.named}  {part.says}")
    if result.choice:
        out.print()
        out.print("The whole board", style="bold")
        for line in choice_lines(ChoiceJson.model_validate(choice_data(result.choice))):
            out.print(f"  {line}")


def _say_tables(out: Console, result: BoardResult) -> None:
    from landwise.cli.terminal import board_table, totals_lines
    from landwise.results.answer import hangs_on

    out.print()
    out.print(board_table(result))
    if result.before and result.after:
        out.print()
        out.print("Board totals, today → after")
        for line in totals_lines(result.before, result.after, result.content.costs.unit):
            out.print(line)
    for line in hangs_on(result):
        out.print(f"hangs on: {line}")


def _say_written(written: Written) -> None:
    from landwise.cli.terminal import console
    from landwise.sheets.pdf import left_out

    out = console()
    pdf = ".pdf of both, " if written.pdf else ""
    tables = "tables.xlsx, " if written.tables else ""
    out.print(f"report: {written.html} (annex.html, {pdf}{tables}result.json); more here: --full")
    if without := left_out(written.html.parent, sheets=True):
        out.print(without)


def _print(result: BoardResult, reference: str | None, full: bool) -> None:
    from landwise.cli.boardlines import board_lines
    from landwise.cli.screen import Text
    from landwise.cli.terminal import (
        console,
        options_table,
        print_cautions,
        print_grouping,
        print_scenarios,
        under_table,
    )
    from landwise.results.notewords import notes_say
    from landwise.results.told import asked, board_cautions

    out = console()
    content = result.content
    numbers = "logic part number" if len(result.parts) == 1 else "logic part numbers"
    head = Text(content.board.name, style="bold")
    head.append(f": {len(result.parts)} {numbers}, line {result.line.name!r}, foil {result.line.foil_um:g} µm")
    out.print(head)
    if not reference:
        print_grouping(out, result)
        print_scenarios(out, result)
        for told in board_lines(result, whole=full):
            out.print(told)
        if full or (result.choice and not result.choice.best.found):
            _say_all(out, result)
    if reference:
        print_cautions(out, board_cautions([result.part(reference)], content))
        part = result.part(reference)
        out.print(options_table(part, limit=40))
        for line in under_table(part, limit=40):
            out.print(line, style="dim")
        out.print()
        out.print(part.says)
        out.print(part.runner_up, style="dim")
    if full and not reference:
        _say_tables(out, result)
    if full or reference:
        for question in asked(result):
            out.print(f"asked: {question}", style="yellow")
        for note in dict.fromkeys(notes_say((*result.notes, *(note for part in result.parts for note in part.notes)))):
            out.print(f"note: {note}", style="dim")
