"""The users' guide: one page of Markdown a topic, beside this file; the command `guide` shows them.

A page begins with its title as a heading, and a paragraph that says what it is for.
"""

import re
from importlib.resources import files

_SUFFIX = ".md"
_LINK = re.compile(r"!?\[([^\]]*)\]\([^)]*\)")


def topics() -> dict[str, str]:
    """What the guide has a page about, in alphabetical order, with the first sentence of each page as plain text."""
    names = sorted(
        entry.name.removesuffix(_SUFFIX) for entry in files(__name__).iterdir() if entry.name.endswith(_SUFFIX)
    )
    return {name: _first_sentence(page(name)) for name in names}


def page(topic: str) -> str:
    """The page about a topic, as Markdown.

    Raises
    ------
    KeyError
        If there is none.
    """
    entry = files(__name__) / f"{topic}{_SUFFIX}"
    if not re.fullmatch(r"[\w-]+", topic) or not entry.is_file():
        raise KeyError(topic)
    return entry.read_text(encoding="utf-8")


def _first_sentence(text: str) -> str:
    paragraph = text.partition("\n\n")[2].partition("\n\n")[0]
    words = _LINK.sub(r"\1", " ".join(paragraph.split())).replace("`", "").replace("**", "")
    return re.split(r"(?<=\.) ", words, maxsplit=1)[0]
