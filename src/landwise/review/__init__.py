"""Review of a finished board's stencil: lands, parts, verdicts, foils, corrections.

`jobs` (from films to a board, laid on each other by `seating`, images of panels by `repeats`), `reviews` (a whole
review), and its steps: `lands`, `matching` (apertures to lands), `grouping` and `placing` (lands to parts, and their
names), `frames` (alike parts), `verdicts` (each aperture under a foil), `checks` (findings), `families` and `levels`
(expected defects, by the assembly room), `mending` (corrections, rules), `panelling` (panels drawn one by one),
`decisions`, `foilchoice`. Out: `causes`, `comparing`, `panels`, `reviewfile`, `reviewtables`, `filmsout`.
"""
