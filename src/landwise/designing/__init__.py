"""The print that suits an option best: which openings on which foil leave the widest margin to a defect, and why."""

from landwise.designing.design import Design, Designer, Margins, design_print
from landwise.designing.stacked import Line
from landwise.designing.variables import Changes
from landwise.designing.words import design_words

__all__ = ["Changes", "Design", "Designer", "Line", "Margins", "design_print", "design_words"]
