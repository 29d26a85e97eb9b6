"""The local workbench: a few routes over the engine, drawn on the server, on loopback only."""
