"""Help of a group in plain lines: the sentence of every command whole, wrapped between words at any width."""

from typer.core import TyperGroup

_MORE = "Exit codes:"

_GROUPS = {
    "Plan": ("run", "place", "batch", "verify", "lays", "shortfall", "edit", "desk"),
    "Cost": ("estimate", "cost", "price", "whatif", "scenarios", "compare", "quote"),
    "Cutting day": ("orders", "stock", "tickets", "cut", "register", "recut", "used", "replan"),
    "Trials": ("stretch", "outcomes", "teach", "trial", "drift"),
    "Files": ("pieces", "digitise", "demo", "guide"),
}
"""Commands by what they are for, as the guide has them; others stand last."""


class HelpGroup(TyperGroup):
    """A group that shows its commands, and the exit codes in its epilog, as lists."""

    def format_commands(self, ctx, formatter) -> None:
        """The first sentence of every command, not cut; those of the program itself by what they are for."""
        found = [(name, self.get_command(ctx, name)) for name in self.list_commands(ctx)]
        rows = [(name, one.get_short_help_str(limit=10_000)) for name, one in found if one and not one.hidden]
        known = dict(rows) if ctx.parent is None else {}
        for title, names in _GROUPS.items():
            if mine := [(name, known.pop(name)) for name in names if name in known]:
                with formatter.section(title):
                    formatter.write_dl(mine)
        if left := [row for row in rows if ctx.parent is not None or row[0] in known]:
            with formatter.section("Commands"):
                formatter.write_dl(left)

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
