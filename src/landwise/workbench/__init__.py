"""The local workbench: a few routes over the engine, drawn on the server, on loopback only.

`app` puts it together behind `guards`; `engine` is the engine with a memory; one module a page (`partpage`, `boards`,
`reviews`, `book`), each with its fields, rows and pictures beside it; `shelf` and `workspace` keep the studies.
"""
