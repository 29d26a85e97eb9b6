"""The command line. Commands load when they are called, so that `landwise --help` is quick."""

from __future__ import annotations

import gc
import io
import os
import sys
from collections.abc import Sequence

import click

from landwise.errors import LandwiseError
from landwise.version import __version__

# Name → (module, one line of help). A command's module is imported only when it is used.
COMMANDS: dict[str, tuple[str, str]] = {
    "start": ("start", "Turn a bill of materials into a commented study file."),
    "offers": ("offers", "Turn a distributor's or assembler's list into offers for a study."),
    "study": ("study", "Judge every package of every logic part; choose for the whole board."),
    "calibrate": ("calibrate", "Learn a line from its own inspection, counts and placement checks."),
    "trial": ("trial", "Design the trial that would settle what a study leaves undecided."),
    "compare": ("compare", "Settle one part from flags and draw its card."),
    "sweep": ("sweep", "Vary inputs over many cases; say where the choice changes."),
    "family": ("family", "Choose the packages of several boards that share one stock."),
    "review": ("review", "Review a finished board's stencil from its fabrication files."),
    "serve": ("serve", "Open the workbench in the browser."),
    "explain": ("explain", "Show the chain of formulas and sources behind a figure."),
    "calc": ("calc", "Work one formula of the book, or list them all."),
    "outlines": ("outlines", "List, show, draw and check package outlines."),
    "sources": ("sources", "List every source, how far it was read, and what rests on it."),
    "checks": ("checks", "Work the checks against the outside on this machine."),
    "defaults": ("defaults", "List every default with its reason and source."),
}
LOOKED_THROUGH = (400_000, 10, 10)  # new values between two looks for rubbish, and looks between wider ones


class _Lazy(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        from importlib import import_module

        command: click.Command = import_module(f"landwise.cli.{COMMANDS[cmd_name][0]}").command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.group(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="landwise")
def app() -> None:
    """Which package should this part come in, on this board, at this assembler?

    Results support a decision. They do not replace qualification of the product, the assembler's own
    capability data, or licensed practice where people depend on the board.
    """


def main(args: Sequence[str] | None = None) -> None:
    """Run the command line; errors become one line on stderr and exit code 2."""
    # What a command makes it keeps until its end, and it ends soon: rubbish is looked for seldom, not every 700 values,
    # which took a sixth of a command that finds its board kept.
    gc.set_threshold(*LOOKED_THROUGH)
    if isinstance(sys.stdout, io.TextIOWrapper):
        # A stream that can't hold a letter gets its number, as the error stream does: never a fault at the last line.
        sys.stdout.reconfigure(errors="backslashreplace")
    try:
        code = app.main(args=list(args) if args is not None else None, standalone_mode=False)
    except LandwiseError as error:
        _fail(str(error))
    except click.UsageError as error:
        error.show()
        sys.exit(2)
    except click.ClickException as error:
        _fail(error.format_message())
    except (click.Abort, KeyboardInterrupt):
        print("landwise: stopped", file=sys.stderr)
        sys.exit(130)
    except BrokenPipeError:
        # The reader went away (`landwise … | head`): nothing is wrong with the work.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
    except Exception as error:  # a fault of ours: say so in one line, and how to see more
        if os.environ.get("LANDWISE_DEBUG"):
            raise
        _fail(
            f"internal fault: {type(error).__name__}: {error} (run again with LANDWISE_DEBUG=1 and report it)", code=70
        )
    sys.exit(code if isinstance(code, int) else 0)


def _fail(message: str, code: int = 2) -> None:
    print(f"landwise: {message}", file=sys.stderr)
    sys.exit(code)
