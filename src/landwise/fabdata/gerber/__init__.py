"""Gerber layers in and out: a small, strict reader of RS-274X and X2, and writers that change only what they say."""

from landwise.fabdata.gerber.editing import edited
from landwise.fabdata.gerber.model import Drawn, Layer, Limits, Pads
from landwise.fabdata.gerber.reader import read_gerber
from landwise.fabdata.gerber.repeating import repeatable, repeated
from landwise.fabdata.gerber.writer import write_gerber

__all__ = ["Drawn", "Layer", "Limits", "Pads", "edited", "read_gerber", "repeatable", "repeated", "write_gerber"]
