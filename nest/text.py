"""Text from files: what must not hide in it, and how it is shown.

Names reach drawings, labels on leather and file names, so that what the eye does not see must not be in them: control
characters, and the marks that turn the direction of reading (Unicode Standard Annex #9, bidirectional formatting
characters; Unicode Technical Report #36, section 2.5, warns of names that read otherwise than they are).
"""

import unicodedata

BREAKS = "\t\n\r"
"""Control characters that are part of any text file."""

_TURNS = frozenset(map(chr, (
    0x061C, 0x200E, 0x200F, 0x2028, 0x2029, 0xFEFF, *range(0x202A, 0x202F), *range(0x2066, 0x206A)
)))


def hidden_at(text: str) -> int | None:
    """Index of the first character that must not be in a text; None if there is none.

    Controls but tab and line breaks, marks of reading direction, line separators, halves of surrogate pairs and
    characters that are none.
    """
    if text.isprintable():  # by Unicode's categories, in which all of these are Other or Separator
        return None
    return next((i for i, one in enumerate(text) if _hidden(one)), None)


def hidden_in(text: str) -> str | None:
    """The first such character in words: "the character U+202E (RIGHT-TO-LEFT OVERRIDE)"; None if there is none."""
    at = hidden_at(text)
    if at is None:
        return None
    name = unicodedata.name(text[at], "a control character")
    return f"the character U+{ord(text[at]):04X} ({name})"


def shown(text: str) -> str:
    """The text for a message, with what is hidden in it, and line breaks, written as escapes."""
    if text.isprintable():
        return text
    return "".join(one.encode("unicode_escape").decode() if one in BREAKS or _hidden(one) else one for one in text)


def _hidden(one: str) -> bool:
    if one in BREAKS:
        return False
    return one in _TURNS or unicodedata.category(one) in ("Cc", "Cs") or ord(one) & 0xFFFE == 0xFFFE


def count_words(number: float, thing: str, things: str = "") -> str:
    """"1 hide", "2 hides"; `things` for what takes another ending: "3 plies"."""
    return f"{number:g} {thing if number == 1 else things or thing + 's'}"
