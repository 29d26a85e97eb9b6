"""`landwise sweep`: many cases."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("sweep")
@click.argument("studies", metavar="STUDY.toml…", nargs=-1, required=True)
@click.option(
    "--vary",
    "varied",
    multiple=True,
    metavar="INPUT=VALUES",
    help="An input and its values: a range 'line.foil=80 um..150 um/8' (' log' behind it for even ratios), or a list"
    " 'costs.run=100,1000,10000'. Repeatable: every combination is a case.",
)
@click.option("-o", "--out", "folder", default="out/sweep", show_default=True, help="Folder of the finished cases.")
@click.option(
    "--points",
    type=click.IntRange(1, 100_000_000),
    default=None,
    help="So many cases spread evenly over all ranges (low-discrepancy) instead of every combination.",
)
@click.option("--seed", default=1, show_default=True, type=click.IntRange(0), help="Of --points.")
@click.option("-j", "--jobs", type=click.IntRange(1), default=None, help="Processes here; all cores unless given.")
@click.option("--on", default=None, metavar="tcp://HOST:8786", help="Hand the cases to this Dask scheduler instead.")
@click.option("--line", "line_file", default=None, metavar="LINE.toml", help="A line file; it stands before the study.")
@click.option("--count", is_flag=True, help="Only say how many cases there are.")
def command(
    studies: tuple[str, ...],
    varied: tuple[str, ...],
    folder: str,
    points: int | None,
    seed: int,
    jobs: int | None,
    on: str | None,
    line_file: str | None,
    count: bool,
) -> int:
    """Choose again and again with inputs varied, and say where the choice changes.

    Any input of the study file can be varied: TABLE.FIELD, an item of a list by its number or its name
    (part[U6].power, part[U6].options[TSSOP-16].price). Each case is a whole-board choice. Finished cases are kept as
    they come: stop it at any time, run the same command again and it goes on; a wider range works only what is new.
    Cases that differ in money or limits alone share geometry and joints.

    Writes table.csv, with the extra [tables] table.parquet, sweep.html and a map for each part that moves. Ends with 0
    when every case is finished, 1 where one failed by a fault of ours, 130 after Ctrl-C.

    Example: landwise sweep board.toml --vary "line.foil=80 um..150 um/8" --vary "costs.run=100,1000,10000"
    """
    from landwise.cli.many import counted, told
    from landwise.cli.study import cores
    from landwise.sweeping.axes import read_axis
    from landwise.sweeping.plan import read_source, study_plan
    from landwise.sweeping.sweeps import run_sweep

    axes = [read_axis(text) for text in varied]
    plan = study_plan([read_source(path, line_file) for path in studies], axes, points=points, seed=seed)
    if count:
        click.echo(f"{len(plan)} cases")
        return 0
    with counted() as (stop, progress):
        swept = run_sweep(plan, Path(folder), jobs=jobs or cores(), on=on, stop=stop, progress=progress)
        stopped = stop()
    return told(swept, stopped)
