"""The reference of the command: every subcommand with its arguments and options, as the command itself knows them."""

from collections.abc import Iterator
from pathlib import Path

import click

from docs.generate.text import code, mended
from studies.command import main


def commands(folder: Path) -> str:
    """Markdown: a section for each subcommand."""
    context = click.Context(main, info_name="trivet")
    return "\n\n".join(_section(main.commands[name], context) for name in main.list_commands(context))


def _section(command: click.Command, parent: click.Context) -> str:
    context = click.Context(command, info_name=command.name, parent=parent)
    usage = command.get_usage(context).removeprefix("Usage: ")
    options = [_option(one, context) for one in _options(command)]
    parts = [f"## `{context.command_path}`", f"```text\n{' '.join(usage.split())}\n```", mended(_about(command))]
    return "\n\n".join([*parts, *options])


def _about(command: click.Command) -> str:
    return "\n\n".join(one for one in (command.help or "").replace("\b", "").split("\n\n") if one.strip())


def _options(command: click.Command) -> Iterator[click.Option]:
    return (one for one in command.params if isinstance(one, click.Option) and not one.hidden)


def _option(option: click.Option, context: click.Context) -> str:
    record = option.get_help_record(context)
    if record is None:
        return ""
    names, about = record
    return f"{code(names)}\n: {mended(about)}"
