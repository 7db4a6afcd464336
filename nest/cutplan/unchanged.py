"""Whether a cutting drawing is as it was written, by its own check sums; and if not, on which layer, at which piece."""

import numpy as np

from nest.cutplan.checksum import is_whole_line, piece_numbers, stated_sums, sums, unit_stated, whole_line, without_sums
from nest.cutplan.drawing import Label
from nest.cutplan.drawn import Drawn
from nest.errors import Problem

_PLACE_MM = 0.01


def changes(drawn: Drawn) -> list[Problem]:
    """Everything that the check sums tell: nothing if the drawing is unchanged."""
    entities = drawn.drawing.entities
    lines = [one for one in entities if is_whole_line(one)]
    if len(lines) != 1:
        return [drawn.problem("one check sum of the drawing", f"{len(lines)}", "legend")]
    line = lines[0]
    if unit_stated(line) and not drawn.unit_in_header and not drawn.old:
        return [drawn.problem("a unit in its header ($INSUNITS)", "none")]
    again = whole_line([one for one in entities if one is not line], unit_stated(line))
    if again.text == line.text and np.abs(np.subtract(again.at, line.at)).max() <= _PLACE_MM:
        return []
    return _where(drawn) or [drawn.problem("the check sums it was written with", "others", "legend", line.at)]


def _where(drawn: Drawn) -> list[Problem]:
    """Layers and pieces that differ from what the legend states of them."""
    rest = without_sums(drawn.drawing)
    (layers, pieces), (told_layers, told_pieces) = sums(rest), stated_sums(drawn.drawing)
    labels = {
        number: one for one, number in zip(rest.entities, piece_numbers(rest), strict=True)
        if number and isinstance(one, Label) and one.use == "labels"
    }
    found = []
    for use in sorted(set(layers) | set(told_layers) & set(drawn.layers)):
        (count, own), (told_count, told) = layers.get(use, (0, "")), told_layers.get(use, (0, ""))
        if count != told_count:
            found.append(drawn.problem(f"{told_count} entities", str(count), use))
        elif own != told:
            found.append(drawn.problem(f"its entities, {count} in all, as they were written", "changed ones", use))
    if len(found) == len(told_layers) > 1:
        return [drawn.problem("its entities as they were written", "changed ones on every layer: all moved or scaled")]
    for number in sorted(set(pieces) | set(told_pieces)):
        label = labels.get(number)
        if number not in pieces:
            found.append(drawn.problem(f"piece no. {number}", "no piece of that number with a cut line"))
        elif pieces[number] != told_pieces.get(number) and label is not None:
            found.append(drawn.problem("it as it was written", "it changed", at=label.at, piece=label.text))
    return found
