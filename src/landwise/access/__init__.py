"""What reaches a joint: eyes and cameras, probes, dirt, and the tracks that lead away from it.

`inspection` (which joints are seen, by what), `probing` (terminals on their own land or by test lands), `exposure`
(how open terminals lie, and what would hide them), `escape` (tracks and layers a grid needs).
"""
