"""`landwise review --many`: every board of a folder."""

from __future__ import annotations

from pathlib import Path

from landwise.untyped import Fields


def review_many(source: str, folder: str, stated: Fields, jobs: int) -> int:
    """Review every folder and zip of a folder, one row each; the exit code, as for one board."""
    from landwise.cli.many import counted, told
    from landwise.judging.namedline import named_line
    from landwise.sweeping.plan import Plan, folder_sources
    from landwise.sweeping.sweeps import run_sweep

    named_line(stated["line_name"])  # a line that is not there is said before any board is read
    more = {
        "line": stated["line_name"],
        "run": stated["run"],
        "most_openings": stated["most_openings"],
    }
    plan = Plan("review", folder_sources(Path(source), more), ())
    with counted() as (stop, progress):
        swept = run_sweep(plan, Path(folder), jobs=jobs, more=more, stop=stop, progress=progress)
        stopped = stop()
    ended, answers, fail_on = told(swept, stopped), swept.answers, stated["fail_on"]
    if answers.get("not valid"):
        return 2
    bad = "fails" in answers or (fail_on == "marginal" and "marginal" in answers)
    return ended or int(fail_on != "never" and bad)
