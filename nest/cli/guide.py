"""The command `guide`: pages of the users' guide."""

from typing import Annotated

import typer

from nest.cli.screen import Screen, console


def guide(topic: Annotated[str, typer.Argument(metavar="[TOPIC]", help="The page to show.")] = "") -> None:
    """Show a page of the users' guide, or without a topic what pages there are.

    On a terminal the page is laid out; into a pipe or a file it goes as it is written, in Markdown.
    """
    from nest.guide import page

    if not topic:
        Screen().result({}, *_contents())
        return
    try:
        text = page(topic.strip().casefold())
    except KeyError:
        raise _no_page(topic) from None
    Screen().result({}, _Page(text) if console().is_terminal else text.rstrip("\n"))


def _contents():
    from rich.table import Table
    from rich.text import Text

    from nest.guide import topics

    grid = Table(box=None, padding=(0, 2, 0, 0), show_header=False)
    for name, about in topics().items():
        grid.add_row(Text(name, style="bold"), Text(about))
    return grid, "Show a page: vampyield guide TOPIC"


class _Page:
    """Markdown laid out for a terminal; code without a ground of its own, which only suits some of them."""

    def __init__(self, text: str):
        self.text = text

    def __rich_console__(self, console, options):
        from rich.markdown import Markdown
        from rich.theme import Theme

        with console.use_theme(Theme({"markdown.code": "bold", "markdown.code_block": "default"})):
            # Links lead to files beside the page, which a terminal cannot follow.
            yield from console.render(Markdown(self.text, hyperlinks=False, code_theme="ansi_light"), options)


def _no_page(topic: str) -> Exception:
    from nest.errors import InputProblems, Problem
    from nest.guide import topics
    from nest.job.findings import clipped, meant

    return InputProblems([Problem("guide", "a topic of the guide", clipped(topic), meant(topic, topics()))])
