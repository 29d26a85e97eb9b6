"""What commands over many cases share: progress with its rate and the time left, and what came of it."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from landwise.sweeping.sweeps import Swept

LINE_EVERY = 30.0  # seconds between two lines where no terminal shows a bar


def pace(done: int, whole: int, seconds: float) -> str:
    """Rate and time left after so many cases in so many seconds.

    >>> pace(30, 120, 60.0), pace(0, 10, 5.0), pace(2, 7202, 1.0)
    ('30 a minute, 3 min left', '', '120 a minute, 60 min left')
    """
    if done <= 0 or seconds <= 0:
        return ""
    rate, left = done / seconds, (whole - done) / (done / seconds)
    often = f"{rate:.3g} a second" if rate >= 10 else f"{rate * 60:.3g} a minute"
    rest = f"{left:.0f} s" if left < 100 else f"{left / 60:.0f} min" if left < 6000 else f"{left / 3600:.3g} h"
    return f"{often}, {rest} left"


@contextmanager
def counted() -> Iterator[tuple[Callable[[], bool], Callable[[int, int, int], None]]]:
    """A stop flag for Ctrl-C, and a function that shows how far it is."""
    from landwise.cli.screen import Count
    from landwise.cli.terminal import console, stopping

    note = console(stderr=True)
    begun = said = time.monotonic()
    with Count(note, "cases") as bar, stopping() as stop:

        def progress(done: int, whole: int, before: int) -> None:
            nonlocal said
            now = time.monotonic()
            shown = pace(done - before, whole - before, now - begun)
            bar.update(done, whole, tail=shown)
            if not note.is_terminal and now - said > LINE_EVERY:
                said = now
                click.echo(f"{done} of {whole} cases, {shown}", err=True)

        yield stop, progress


def told(swept: Swept, stopped: bool) -> int:
    """Print what came of it; the exit code."""
    from landwise.cli.terminal import console
    from landwise.extras import TABLES

    out = console()
    ended = ", ".join(f"{count} {answer}" for answer, count in swept.answers.items())
    again = f" ({swept.before} by an earlier run)" if swept.before else ""
    finished = sum(swept.answers.values())
    out.print(f"{finished} of {swept.cases} cases finished{again}: {ended or 'none'}")
    for one in swept.found:
        out.print()
        out.print(one.name, style="bold")
        for path in one.idle:
            text = f"  {path} changes nothing in any case: does another input stand before it?"
            out.print(text, style="yellow")
        for move in one.moves[:12]:
            out.print(f"  {move}")
        if len(one.moves) > 12:
            out.print(f"  and {len(one.moves) - 12} rarer moves", style="dim")
        if not one.moves:
            out.print("  no part takes another package between neighbouring cases", style="dim")
    out.print()
    out.print(f"written: {', '.join(str(path) for path in swept.written)}")
    if not any(path.suffix == ".parquet" for path in swept.written):
        out.print(TABLES.says, style="dim")
    if stopped:
        click.echo("landwise: stopped; run the same command again to go on", err=True)
        raise click.exceptions.Exit(130)
    return int(swept.answers.get("fault", 0) > 0)
