"""What every page of paper is held to: its texts can be read, and none lies on another."""

from itertools import combinations

from nest.sheets.frame import MARGIN
from nest.sheets.page import LEAST_SIZE


def hold_legible(page):
    """Texts of 7 pt and more, on the page within its margins, none on another."""
    assert min(box.size for box in page.boxes) >= LEAST_SIZE >= 7.0
    for box in page.boxes:
        assert box.x0 >= MARGIN - 0.5 and box.x1 <= page.size[0] - MARGIN + 0.5, box.text
        assert box.y0 >= MARGIN - 0.5 and box.y1 <= page.size[1] - MARGIN + 0.5, box.text
    on_another = [(a.text, b.text) for a, b in combinations(page.boxes, 2) if a.meets(b, -0.01)]
    assert not on_another


def words_of(page):
    """All texts of a page in one."""
    return " ".join(box.text for box in page.boxes)
