"""Review of a finished board's stencil: lands, parts, verdicts, foils, corrections.

`jobs` (from films to a board), `reviews` (a whole review), and its steps: `matching` (apertures to lands), `grouping`
(lands to parts), `verdicts` (each aperture under a foil), `foilchoice`, `findings`, `corrections`. Out: `reviewfile`,
`filmsout`.
"""
