"""landwise: which package should this part come in, on this board, at this assembler?

>>> import landwise as lw
>>> lw.find("SO-14").pitch_mm
1.27
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from landwise.version import __version__

if TYPE_CHECKING:
    from landwise.board.choice import choose_board
    from landwise.evidence import evaluate
    from landwise.judging.study import run_study
    from landwise.lands import land_pattern
    from landwise.outlines import catalogue, find
    from landwise.printing import print_part
    from landwise.study.file import read_study, study_from

# Loaded when first asked for, so that the command line starts without them.
_HOMES = {
    "choose_board": "landwise.board.choice",
    "evaluate": "landwise.evidence",
    "land_pattern": "landwise.lands",
    "catalogue": "landwise.outlines",
    "find": "landwise.outlines",
    "print_part": "landwise.printing",
    "run_study": "landwise.judging.study",
    "read_study": "landwise.study.file",
    "study_from": "landwise.study.file",
}

__all__ = [
    "__version__",
    "catalogue",
    "choose_board",
    "evaluate",
    "find",
    "land_pattern",
    "print_part",
    "read_study",
    "run_study",
    "study_from",
]


# any of the names that the package offers
def __getattr__(name: str) -> Any:
    if name in _HOMES:
        from importlib import import_module

        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'landwise' has no attribute {name!r}")
