"""What a terminal of some width is sent, and whether a narrow one is sent all that a wide one is."""

import re

from rich.console import Console

from nest.cli import screen

WIDTHS = (60, 80, 120)
_LINES = re.compile(r"[─-╿…]")


def drawn(tables, width, monkeypatch):
    """What a terminal of this width is sent."""
    parts = []

    def console(*, errors=False):
        return Console(width=width, force_terminal=True, color_system=None, highlight=False, legacy_windows=False)

    with monkeypatch.context() as patch:
        patch.setattr(screen, "console", console)
        patch.setattr(screen, "_write", parts.append)
        screen.Screen().result({}, *tables)
    return "".join(parts)


def words(text):
    """Every word, without the lines of tables."""
    return set(_LINES.sub(" ", text).split())


def held_whole(kept, monkeypatch):
    """At each width there stands every word that stands at 400 columns, and no line is longer than its words."""
    whole = drawn(kept, 400, monkeypatch)
    for width in reversed(WIDTHS):
        text = drawn(kept, width, monkeypatch)
        missing = words(whole) - words(text) - {word for word in words(whole) if ":" in word or len(word) > width}
        # headings stand on in blocks, with a colon
        assert {word for word in missing if f"{word}:" not in words(text)} == set(), width
        assert all(len(line) <= width or max(map(len, line.split())) > width - 8 for line in text.splitlines()), width
        assert ("…" in text) == ("…" in whole)
