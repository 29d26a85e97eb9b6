"""`landwise trial`: the cheapest experiment that would settle a choice."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("trial")
@click.argument("study_file", metavar="STUDY.toml")
@click.option("-o", "--out", "folder", default="trial", show_default=True, help="Folder for the coupon and its sheet.")
@click.option("--part", "reference", default=None, help="One part by its first reference, whatever its answer.")
@click.option("--line", "line_file", default=None, metavar="LINE.toml", help="A line file; it stands before the study.")
def command(study_file: str, folder: str, reference: str | None, line_file: str | None) -> None:
    """Design the trial that would settle what a study leaves undecided.

    For every part that is not decided: which packages to build, how many of each, what that costs and is worth over
    the run, when to stop; a coupon as Gerber with placement, a build sheet, and forms that are read back by
    `landwise calibrate --defects` and by [[use.tests]]. Inputs that no trial shows, such as prices, are named.

    Example: landwise trial board.toml -o trial/
    """
    from landwise.board.choice import choose_board
    from landwise.board.trial import proposals
    from landwise.cli.terminal import console
    from landwise.judging.bench import Bench
    from landwise.judging.study import run_study
    from landwise.memory import Memory, keep_in_cache_folder
    from landwise.sheets.files import check_folder, ready_folder, write_together
    from landwise.sheets.trialsheet import asks_of, trial_files
    from landwise.study.file import read_study

    check_folder(Path(folder))
    keep_in_cache_folder()
    study = read_study(study_file, line=line_file)
    memory = Memory.left_by(study.board_key)
    result = choose_board(run_study(study, bench=Bench.of(study, memory)), memory=memory)
    memory.leave(study.board_key)
    out = console()
    if result.choice is None or result.choice.answer is None:
        out.print("no whole-board choice was made: there is nothing that a trial could settle", markup=False)
        return
    found = proposals(result.choice, reference)
    if not found:
        out.print(
            f"{study.content.board.name}: every part is decided or equal within what is known; no trial is needed"
            " (--part REF designs one all the same)",
            markup=False,
        )
        return
    files = trial_files(found, result.choice)
    unit = study.content.costs.unit
    for one in found:
        if one.chosen is None:
            out.print(f"{one.part}: no trial of {', '.join(one.rivals)} is worth its price", markup=False)
        else:
            out.print(
                f"{one.part}: build {one.chosen.size} of each of {', '.join(one.rivals)}; worth {one.chosen.gain:.3g}"
                f" {unit} over the run",
                markup=False,
            )
        if one.asks:
            out.print(f"  find out first, no trial shows it: {asks_of(one)}", style="dim", markup=False)
    target = Path(folder)
    ready_folder(target)
    write_together(target, files)
    out.print(f"wrote {target}/trial.md and {len(files) - 1} files beside it", markup=False)
