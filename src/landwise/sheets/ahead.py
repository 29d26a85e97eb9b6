"""What a report will show of a choice, worked beside the reasons for it.

The map of what each chosen package bears, and what binds each print, follow from packages, prints and line alone: other
processes leave them in the cache folder, where the report finds them. It is told nothing else.
"""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

from landwise.board.judged import Setups, bench_of
from landwise.board.model import Decision
from landwise.board.result import BoardResult
from landwise.board.workers import Helpers
from landwise.errors import LandwiseError
from landwise.outlines import Outline
from landwise.sheets.pictures import window_of

if TYPE_CHECKING:
    from concurrent.futures import Future

Piece = tuple[Outline, Decision, float, bool]


def pictures_begun(result: BoardResult, helpers: Helpers[Setups]) -> list[Future[None]]:
    """Begin what the report of a choice takes longest to work, where helpers are there anyway.

    Parameters
    ----------
    result : BoardResult
        Chosen, whether or not the reasons for it are known.
    helpers : Helpers
        From `helpers_for`. What they have not begun when their `with` block ends the report works itself.

    Returns
    -------
    begun : list of Future
        One for each package and foil: nobody need wait for them.
    """
    if result.choice is None or not helpers.there:
        return []
    from concurrent.futures.process import BrokenProcessPool  # loaded with the processes

    decision = result.choice.model.decisions[result.choice.best.decision]
    pieces: dict[tuple[str, float], Piece] = {}
    for part in result.parts:
        if part.chosen is not None:
            # On its own foil: it may stand on a step.
            um = part.chosen.geometry.printed.foil.thickness_um
            pieces[part.chosen.name, um] = part.chosen.geometry.outline, decision, um, True
    # The report begins with the first part, while they may still be at it: they meet in the middle.
    for part in reversed(result.parts):
        for option in part.options:
            own = option.geometry.outline, decision, decision.foil_um, False
            pieces.setdefault((option.name, decision.foil_um), own)
    begun = []
    with contextlib.suppress(BrokenProcessPool):
        for piece in pieces.values():
            begun.append(helpers.begin(_worked, piece))
    return begun


def _worked(setups: Setups, piece: Piece) -> None:
    outline, decision, um, is_chosen = piece
    with contextlib.suppress(LandwiseError):  # the report meets it again
        bench = bench_of(setups, decision, um)
        geometry = bench.geometry(outline)
        _ = geometry.reasons
        if is_chosen:
            window_of(geometry, bench.line, bench.content)
