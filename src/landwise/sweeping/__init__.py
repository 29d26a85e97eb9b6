"""Many cases: inputs of a study varied, many studies, many reviews; on the local cores or on a cluster.

Begin with `sweeps.run_sweep`. A `Plan` numbers the cases, `cases` works one, `journal` keeps what is finished,
`local` and `cluster` share the work out, `tables` and `changes` write and read what came out.
"""
