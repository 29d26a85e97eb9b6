"""Review of a finished board's stencil: lands, parts, verdicts, foils, corrections."""
