"""`landwise sources`: what everything rests on."""

from __future__ import annotations

import click


@click.command("sources")
@click.argument("key", required=False)
@click.option("--mark", default=None, help="Only sources with this mark, such as 'from memory'.")
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def command(key: str | None, mark: str | None, as_json: bool) -> None:
    """List every source with how far it was read and what rests on it.

    Marks: verified (read in the text named), second-hand, from memory, common practice, computed. With KEY, one source
    in full: where it stands, and every formula, outline, default, check and file of landwise that names it.

    Example: landwise sources --mark "from memory"
    """
    import json
    from collections import Counter

    from landwise.cli.terminal import console
    from landwise.errors import InputError
    from landwise.evidence import all_sources, source
    from landwise.evidence.sources import MARKS
    from landwise.proving import resting

    if mark is not None and mark not in MARKS:
        raise InputError("unknown mark", place="--mark", found=repr(mark), expected=" | ".join(MARKS))
    rests = resting()
    found = [source(key)] if key else list(all_sources().values())
    found = sorted((one for one in found if mark in (None, one.mark)), key=lambda one: one.key)
    if as_json:
        rows = [
            {
                **{name: getattr(one, name) for name in ("key", "title", "where", "mark", "note", "kind")},
                "rests_on_it": {kind: list(names) for kind, names in rests.get(one.key, {}).items()},
            }
            for one in found
        ]
        click.echo(json.dumps(rows, indent=1, ensure_ascii=False))
        return
    out = console()
    if key:
        one = found[0] if found else source(key)
        out.print(f"{one.title}\n{one.where}\n{one.mark}{'; ' + one.note if one.note else ''}")
        for kind, names in rests.get(key, {}).items():
            if names:
                out.print(f"{kind}: {', '.join(names)}")
        return
    for one in found:
        said = [_counted(len(names), kind) for kind, names in rests.get(one.key, {}).items() if names]
        out.print(f"{one.key}  [{one.mark}]", style="bold")
        out.print(f"  {one.title}; rests on it: {', '.join(said) or 'nothing listed here'}")
    counts = Counter(one.mark for one in found)
    out.print(f"{len(found)} sources: " + ", ".join(f"{count} {name}" for name, count in counts.most_common()))


def _counted(count: int, kind: str) -> str:
    """How many of a kind, whose name is a plural: `1 check`, `2 checks`."""
    return f"{count} {kind.removesuffix('s') if count == 1 else kind}"
