"""Where every number comes from: the sources, the formula book, and figures that carry their trail."""

from landwise.evidence.book import Answer, Formula, Input, Output, all_formulas, evaluate, formula
from landwise.evidence.figures import Figure, Step, Verdict
from landwise.evidence.sources import Source, all_sources, source

__all__ = [
    "Answer",
    "Figure",
    "Formula",
    "Input",
    "Output",
    "Source",
    "Step",
    "Verdict",
    "all_formulas",
    "all_sources",
    "evaluate",
    "formula",
    "source",
]
