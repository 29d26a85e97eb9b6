"""From print, placement and warpage scatter to opens, bridges and yield.

Once assembled: `partmodel` (a part as its assembly sees it), `scatter` (what scatters, each term with its source),
`mechanisms` (the limit states). How often: `rates` counts a plain simulation, `rare` integrates what is too rare to
count, `partrates` reports both with their range, `yields` carries them to boards, `window` over foils and reductions.
The assembler: `lines`. Nothing is imported here, so that the formula book lists its keys without loading numerics.
"""
