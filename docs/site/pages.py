"""Pages of the site that are made from the code: commands, formulas, defaults, and the reference of each room."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

SOURCE = Path(__file__).resolve().parents[2] / "src" / "landwise"
LEFT_OUT = frozenset({"schemas", "cli"})  # data; and the commands, which have a page of their own


def commands_page() -> str:
    """What each command's own help says."""
    import click

    from landwise.cli import COMMANDS, app

    lines = ["# Commands", "", "Made from the commands' own help.", ""]
    parent = click.Context(app, info_name="landwise", max_content_width=100)
    for name in COMMANDS:
        command = app.get_command(parent, name)
        assert command is not None
        with click.Context(command, info_name=name, parent=parent, max_content_width=100) as context:
            lines += [f"## landwise {name}", "", "```", command.get_help(context), "```", ""]
    return "\n".join(lines)


def formulas_page() -> str:
    """Every entry of the formula book."""
    from landwise.evidence import all_formulas, source

    lines = ["# Formulas", "", "The formula book: `landwise calc NAME input=value`.", ""]
    for key, entry in all_formulas().items():
        lines += [f"## {key}", "", entry.title + ".", ""]
        lines += [f"`{entry.equation}`", ""] if entry.equation else []
        lines += ["| input | takes | what it is |", "|---|---|---|"]
        for item in entry.inputs:
            takes = ", ".join(item.choices) if item.choices else item.dimension
            lines.append(f"| `{item.name}` | {_cell(takes)} | {_cell(item.says)} |")
        lines += ["", "| output | unit | what it is |", "|---|---|---|"]
        lines += [f"| `{one.name}` | {one.unit or '–'} | {_cell(one.says)} |" for one in entry.outputs]
        lines += ["", f"Valid: {entry.valid}.", ""]
        lines += [f"Caution: {entry.cautions}", ""] if entry.cautions else []
        lines += [f"- {source(name).title} ({source(name).mark}): {source(name).where}" for name in entry.sources]
        lines.append("")
    return "\n".join(lines)


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def rooms() -> Iterator[tuple[str, str, str]]:
    """Each room with its title and the page that lists its modules."""
    folders = sorted(
        path for path in SOURCE.iterdir() if (path / "__init__.py").is_file() and path.name not in LEFT_OUT
    )
    roots = sorted(path for path in SOURCE.glob("*.py") if not path.stem.startswith("__"))
    modules = [f"landwise.{path.stem}" for path in roots]
    yield "landwise", "landwise", _page("landwise: below all rooms", modules)
    for folder in folders:
        inside = sorted(path for path in folder.rglob("*.py") if (path.parent / "__init__.py").is_file())
        names = [".".join(("landwise", *path.relative_to(SOURCE).with_suffix("").parts)) for path in inside]
        modules = [name.removesuffix(".__init__") for name in names]
        yield folder.name, folder.name, _page(folder.name, [name for name in modules if "._" not in name])


def _page(title: str, modules: list[str]) -> str:
    return "\n".join([f"# {title}", "", *(f"::: {name}\n" for name in modules)])


def made_pages() -> dict[str, tuple[str, str]]:
    """Every made page by its file: title and text."""
    pages = {
        "reference/commands.md": ("Commands", commands_page()),
        "reference/formulas.md": ("Formulas", formulas_page()),
    }
    return pages | {f"reference/api_{name}.md": (title, text) for name, title, text in rooms()}


def on_config(config: Any) -> Any:
    """Put the made pages into the navigation."""
    for section in config["nav"]:
        if "Reference" in section:
            section["Reference"] += [{title: file} for file, (title, _) in made_pages().items()]
    return config


def on_files(files: Any, config: Any) -> Any:
    """Add the made pages to the files of the site."""
    from mkdocs.structure.files import File

    for file, (_, text) in made_pages().items():
        files.append(File.generated(config, file, content=text))
    return files
