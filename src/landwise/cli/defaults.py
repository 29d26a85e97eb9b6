"""`landwise defaults`: every default with its reason."""

from __future__ import annotations

import json

import click


@click.command("defaults")
@click.argument("table", required=False)
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def command(table: str | None, as_json: bool) -> None:
    """List every default: what stands there, why, and where it comes from.

    TABLE limits the list: board, line, use, want, costs, lands, apertures, scatter, criteria.
    """
    from landwise.errors import UnknownNameError
    from landwise.study.defaults import all_defaults

    found = all_defaults()
    tables = list(dict.fromkeys(item.place.split(".")[0] for item in found))
    if table is not None and table not in tables:
        raise UnknownNameError("no such table of defaults", found=table, expected=" | ".join(tables))
    shown = [item for item in found if table in (None, item.place.split(".")[0])]
    if as_json:
        click.echo(json.dumps([vars(item) for item in shown], ensure_ascii=False, indent=1))
        return
    width = max(len(item.place) for item in shown)
    for item in shown:
        click.echo(f"{item.place:<{width}}  {item.value:<14} {item.says}")
        click.echo(f"{'':<{width}}  {'':<14} why: {item.reason} ({item.source})")
