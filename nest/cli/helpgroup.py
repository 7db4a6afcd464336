"""Help of a group in plain lines: the sentence of every command whole, wrapped between words at any width."""

from collections.abc import Callable

import typer
from typer.core import TyperGroup

_MORE = "Exit codes:"


class HelpGroup(TyperGroup):
    """A group that shows its commands, and the exit codes in its epilog, as lists."""

    def format_commands(self, ctx, formatter) -> None:
        """The first sentence of every command, not cut, by what the commands are for."""
        found = [(name, self.get_command(ctx, name)) for name in self.list_commands(ctx)]
        rows: dict[str, list[tuple[str, str]]] = {}
        for name, one in found:
            if one and not one.hidden:
                heading = getattr(one, "rich_help_panel", None) or "Commands"
                rows.setdefault(heading, []).append((name, one.get_short_help_str(limit=10_000)))
        for heading, mine in rows.items():
            with formatter.section(heading):
                formatter.write_dl(mine)

    def format_epilog(self, ctx, formatter) -> None:
        """Lines as they stand; exit codes, one a line, as a list."""
        lines, _, codes = (self.epilog or "").partition(f"{_MORE}\n")
        if lines.strip():
            formatter.write_paragraph()
            for line in lines.rstrip().splitlines():
                formatter.write(f"{line}\n")
        if codes:
            with formatter.section(_MORE.rstrip(":")):
                formatter.write_dl([tuple(line.split(maxsplit=1)) for line in codes.strip().splitlines()])


def add_command(
    app: typer.Typer, name: str, work: Callable[..., None], path: str, examples: str | tuple[str, ...],
    heading: str | None = None,
) -> None:
    """Add a command under a heading of the help, with examples of what follows `vampyield PATH`."""
    several = examples if isinstance(examples, tuple) else (examples,)
    lines = ", ".join(f"vampyield {path} {one}".rstrip() for one in several)
    app.command(name, epilog=f"Example{'s' * (len(several) > 1)}: {lines}", rich_help_panel=heading)(work)


def group_of(name: str, words: str, commands: dict[str, tuple[Callable[..., None], str]]) -> typer.Typer:
    """A group of commands: each by its name, with what follows `vampyield NAME COMMAND` as an example."""
    group = typer.Typer(cls=HelpGroup, no_args_is_help=True, help=words)
    for command, (work, example) in commands.items():
        add_command(group, command, work, f"{name} {command}", example)
    return group
