"""What is written of a result.

`file` (result.json with its schema, and options.csv), `choice` (the board's choice in it), `verdict` (an option as a
whole).
"""
