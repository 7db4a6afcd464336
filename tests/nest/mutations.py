"""Ways to spoil sound files for fuzz tests: bytes, lines and fields of them, at the choice of hypothesis.

`FUZZ_EXAMPLES` in the environment asks for more examples than a test run has time for.
"""

import copy
import functools
import json
import os
import re

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

EXAMPLES = int(os.environ.get("FUZZ_EXAMPLES", "20"))

fuzzed = settings(
    max_examples=EXAMPLES, deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.data_too_large],
)

TOKENS = (
    "", "0", "-1", "1e308", "-1e-308", "1e999", "nan", "inf", "-inf", "NaN", "9" * 400, "9" * 5000, "0x10", "1_000",
    "2.5", "true", "null", '""', "[]", "{}", "[[[[", "]]]]", '"\\u202e"', '"\\ud800"', "\u202e", "\u0000", "\u0007",
    "\ufeff", "../../etc/passwd", "/dev/zero", ".", "..", "a" * 3000, "é", "ß", "日本", "1/2", "1,5", "9" * 20, "=1+1",
)
"""What is put in place of a value."""

VALUES = (
    None, True, False, 0, -1, 1, 2**63, 10**30, 10**400, 1e308, -1e-308, 1e15, 1e6, 0.1, "", "x", "left",
    "\u202e", "\ud800", "\x07", "a" * 3000, [], {}, [[]], [None],
    [[0, 0], [0, 0], [0, 0]], [[0, 0], [9, 9], [9, 0], [0, 9]], {"type": "Polygon"},
    {"type": "Polygon", "coordinates": [[[0, 0], [1, 1], [0, 0]]]}, {"type": "MultiPolygon", "coordinates": []},
)
"""The same for data of JSON."""


@st.composite
def spoilt_bytes(draw, data: bytes, first: int = 0) -> bytes:
    """`data` with up to four runs of bytes changed, taken out, doubled, or all cut off behind a place."""
    out = bytearray(data)
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(first, max(first, len(out) - 1)))
        size = draw(st.integers(1, 40))
        match draw(st.sampled_from(["change", "insert", "remove", "double", "cut"])):
            case "change":
                new = draw(st.binary(min_size=1, max_size=4))
                out[at : at + len(new)] = new
            case "insert":
                out[at:at] = draw(st.binary(min_size=1, max_size=8))
            case "remove":
                del out[at : at + size]
            case "double":
                out[at:at] = out[at : at + size]
            case "cut":
                del out[max(at, first) :]
    return bytes(out)


@st.composite
def spoilt_lines(draw, text: str, separator: str) -> str:
    """`text` with up to three lines taken out, doubled or exchanged, or the part behind a separator replaced."""
    lines = text.split("\n")
    for _ in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, len(lines) - 1))
        match draw(st.sampled_from(["value", "value", "value", "remove", "double", "exchange"])):
            case "value":
                parts = lines[at].split(separator) if separator else [lines[at]]
                parts[draw(st.integers(0, len(parts) - 1))] = draw(st.sampled_from(TOKENS))
                lines[at] = separator.join(parts)
            case "remove" if len(lines) > 1:
                del lines[at]
            case "double":
                lines.insert(at, lines[at])
            case _:
                other = draw(st.integers(0, len(lines) - 1))
                lines[at], lines[other] = lines[other], lines[at]
    return "\n".join(lines)


_NUMBER = re.compile(r"(?<![\w.#])-?\d+(?:\.\d+)?(?![\w.])")


@functools.lru_cache(maxsize=64)
def _numbers(text: str) -> tuple[tuple[int, int], ...]:
    """Where each number of a text begins and ends."""
    return tuple(match.span() for match in _NUMBER.finditer(text))


@st.composite
def nudged(draw, text: str) -> str:
    """`text` with up to three of its numbers a little different, of the other sign, nought, or those of another place.

    Most readers take what comes of it a long way, whatever the format.
    """
    places, changes = _numbers(text), {}
    for _ in range(draw(st.integers(0, 3)) if places else 0):
        (begin, end), other = (places[draw(st.integers(0, len(places) - 1))] for _ in range(2))
        number = float(text[begin:end])
        changes[begin] = end, draw(st.sampled_from((
            f"{number * 1.01:.6g}", f"{number + 1:.6g}", f"{number - 0.01:.6g}", f"{-number:.6g}",
            f"{min(abs(number), 1e9) + 1:.0f}", "0", "1", text[slice(*other)],
        )))
    for begin, (end, new) in sorted(changes.items(), reverse=True):
        text = text[:begin] + new + text[end:]
    return text


@st.composite
def spoilt_json(draw, text: str) -> str:
    """JSON with up to three of its values replaced, taken out, doubled, or moved to another place."""
    data = json.loads(text)
    for _ in range(draw(st.integers(1, 3))):
        places = list(_places(data))
        if not places:
            break
        holder, key = draw(st.sampled_from(places))
        match draw(st.sampled_from(["value", "value", "remove", "double", "move"])):
            case "value":
                holder[key] = copy.deepcopy(draw(st.sampled_from(VALUES)))  # or it may come to hold itself
            case "remove":
                del holder[key]
            case "double" if isinstance(holder, list):
                holder.insert(key, copy.deepcopy(holder[key]))
            case _:
                other, from_key = draw(st.sampled_from(places))
                holder[key] = copy.deepcopy(other[from_key])
    return json.dumps(data)


def _places(data):
    """Every list or object within, with each of its indices or keys; of long lists the ends."""
    if isinstance(data, dict):
        keys = list(data)
    elif isinstance(data, list):
        keys = list(range(len(data))) if len(data) < 8 else [0, 1, len(data) // 2, len(data) - 1]
    else:
        return
    for key in keys:
        yield data, key
        yield from _places(data[key])
