"""Help of a group in plain lines: the sentence of every command whole, wrapped between words at any width."""

from typer.core import TyperGroup

_MORE = "Exit codes:"


class HelpGroup(TyperGroup):
    """A group that shows its commands, and the exit codes in its epilog, as lists."""

    def format_commands(self, ctx, formatter) -> None:
        """The first sentence of every command, not cut."""
        found = [(name, self.get_command(ctx, name)) for name in self.list_commands(ctx)]
        rows = [(name, one.get_short_help_str(limit=10_000)) for name, one in found if one and not one.hidden]
        if rows:
            with formatter.section("Commands"):
                formatter.write_dl(rows)

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
