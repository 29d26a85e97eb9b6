"""What a user states: the study file, one part's question, defaults with reasons, a first study from a bill.

`file` (read once, checked whole), `question` (one part from a few texts), `defaults` (all of them in one list),
`start` (a bill of materials becomes a commented study file).
"""
