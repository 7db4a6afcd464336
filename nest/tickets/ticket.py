"""The pages of a ticket: pieces, steps and notes, then boxes for the outcome of every piece."""

from collections import Counter
from collections.abc import Callable, Sequence
from itertools import accumulate

from nest.cutplan.sizes import sizes_in_order
from nest.cutplan.stamp import Stamp
from nest.pieces.piece import Foot
from nest.plan import Plan
from nest.sheets.cutwords import NOT_VERIFIED
from nest.sheets.flow import paragraph
from nest.sheets.frame import MARGIN, draw_foot, draw_heading
from nest.sheets.page import LEAST_SIZE, PITCH, QUIET, Page, as_many, clipped, width, wrapped
from nest.text import count_words
from nest.tickets.batches import Batch
from nest.tickets.outcome import outcome_bands
from nest.tickets.steps import UNPLANNED, Fact, Planned, TicketStep, steps_of

Band = Callable[[Page, float], float]
"""Draws a strip across the page from y downwards, and returns where the next begins."""

_SIGNED = "Batch complete: ______________   Bonded by: ______________   Crimped by: ______________   " \
    "Trimmed by, date: ______________"
_SIZE, _SMALL, _TITLE, _VALUE = 8.0, LEAST_SIZE, 10.0, 9.5
_ACROSS, _GAP = 5, 8.0
_HIDES_WIDE = 480.0
"""The names of a batch's hides take no more than this at its head, points; its last pages have them all."""

_TABLE_GROUPS, _TABLE_ROW = 2, 11.0
_BLANK = "from __________ to __________ by __________"


def ticket_pages(
    plan: Plan, batch: Batch, verified: bool, stamp: Stamp | None = None, planned: Planned = UNPLANNED
) -> list[Page]:
    """The ticket of one batch, as many pages as it takes; each bears its name, cautions and the plan it is of."""
    style = next(style for style in plan.styles if style.name == batch.style)
    bands = [_pieces(plan, batch), *(_step(number, step, planned) for number, step in
                                     enumerate(steps_of(plan, batch, planned), start=1))]
    if style.notes:
        bands += [_heading("Notes"), *map(_sentence, style.notes)]
    pages = _poured(bands, plan, batch, verified, stamp, "Ticket of batch")
    return pages + _poured(outcome_bands(batch), plan, batch, verified, stamp, "Outcome of batch")


def _poured(
    bands: Sequence[Band], plan: Plan, batch: Batch, verified: bool, stamp: Stamp | None, kind: str
) -> list[Page]:
    """Bands on as many pages as they take; one that is higher than a page is none of ours."""
    pages: list[Page] = []
    y = bottom = 0.0
    for band in bands:
        if not pages or y + band(Page(), 0.0) > bottom:
            page = Page()
            y = _head(page, batch, verified, f"{kind}, continued" if pages else kind)
            bottom = draw_foot(page, None, _SIGNED, stamp, plan.name)
            pages.append(page)
        y = band(pages[-1], y)
    return pages


def _head(page: Page, batch: Batch, verified: bool, kind: str) -> float:
    hides = f"From {count_words(len(batch.hides), 'hide')}: "
    lines = [
        f"{batch.style}, batch {batch.number} of {batch.count}",
        f"{count_words(batch.pairs, 'pair')}, {count_words(len(batch.vamps), 'vamp')}",
        hides + as_many(batch.hides, _HIDES_WIDE - width(hides, 8.5), 8.5),
    ]
    return draw_heading(page, kind, batch.name, lines, "Goes with the vamps from cutting to trimming",
                        "" if verified else NOT_VERIFIED)


def _right(page: Page) -> float:
    return page.size[0] - MARGIN


def _heading(words: str) -> Band:
    def draw(page: Page, y: float) -> float:
        page.text(MARGIN, y + 3.0, words, _TITLE, bold=True)
        return y + 17.0

    return draw


def _sentence(words: str) -> Band:
    def draw(page: Page, y: float) -> float:
        return paragraph(page, MARGIN, y, _right(page) - MARGIN, words, _SIZE) + 1.0

    return draw


def _pieces(plan: Plan, batch: Batch) -> Band:
    """Vamps by size and foot, each with as many reinforcements, in groups of columns side by side."""
    style = next(style for style in plan.styles if style.name == batch.style)
    counted = Counter((vamp.size, vamp.foot) for vamp in batch.vamps)
    sizes = [size for size in sizes_in_order(plan) if any(counted[size, foot] for foot in Foot)]
    feet = [foot for foot in Foot if any(counted[size, foot] for size in sizes)]
    backed = ["reinforcements"] if style.roll else []
    head = ["size", *({Foot.EITHER: "vamps"}.get(foot, foot) for foot in feet), *backed]
    rows = [
        [size, *(str(counted[size, foot]) for foot in feet), *(str(_of_size(batch, size)) for _ in backed)]
        for size in sizes
    ]
    rows.append(["all", *(str(sum(int(row[at]) for row in rows)) for at in range(1, len(head)))])
    down = -(-len(rows) // _TABLE_GROUPS)

    def draw(page: Page, y: float) -> float:
        y = _heading("Pieces by size")(page, y)
        wide = (_right(page) - MARGIN) / _TABLE_GROUPS
        steps = [34.0, *(46.0 for _ in feet), *(wide - 34.0 - 46.0 * len(feet) - 8.0 for _ in backed)]
        lefts = list(accumulate(steps, initial=0.0))
        for group in range(-(-len(rows) // down)):
            for i, row in enumerate([head, *rows[group * down : (group + 1) * down]]):
                bold = i == 0 or row[0] == "all"
                for left, room, cell in zip(lefts, steps, row, strict=False):
                    page.text(MARGIN + group * wide + left, y + i * _TABLE_ROW,
                              clipped(cell, room - 3.0, _SIZE, bold), _SIZE, bold=bold)
        return y + (down + 1) * _TABLE_ROW + 3.0

    return draw


def _of_size(batch: Batch, size: str) -> int:
    return sum(vamp.size == size for vamp in batch.vamps)


def _step(number: int, step: TicketStep, planned: Planned) -> Band:
    """A step: its title, when it is planned and when it was done, its values, what to mind."""
    time = planned.times.get(step.key, "")

    def draw(page: Page, y: float) -> float:
        right = _right(page)
        page.line(((MARGIN, y), (right, y)), colour="#999999", thick=0.5)
        y += 4.0
        title = page.text(MARGIN, y, f"{number}  {step.title}", _TITLE, bold=True)
        blank = page.text(right, y + 1.0, _BLANK, _SIZE, align="right")
        if time:
            room = blank.x0 - title.x1 - 20.0
            page.text(title.x1 + 10.0, y + 1.0, clipped(f"planned {time}", room, _SIZE, True), _SIZE, bold=True)
        y += 15.0
        wide = (right - MARGIN) / _ACROSS
        for at in range(0, len(step.facts), _ACROSS):
            for i, fact in enumerate(step.facts[at : at + _ACROSS]):
                _fact(page, MARGIN + i * wide, y, wide - _GAP, fact)
            y += 23.0
        for sentence in step.sentences:
            for line in wrapped(sentence, right - MARGIN, _SIZE):
                page.text(MARGIN, y, line, _SIZE)
                y += PITCH * _SIZE
        return y + 4.0

    return draw


def _fact(page: Page, x: float, y: float, wide: float, fact: Fact) -> None:
    page.text(x, y, clipped(fact.name, wide, _SMALL), _SMALL, colour=QUIET)
    y += 8.5
    if fact.value:
        size = next((one for one in (_VALUE, 8.5, 7.5) if width(fact.value, one, True) <= wide), LEAST_SIZE)
        page.text(x, y, clipped(fact.value, wide, size, True), size, bold=True)
        return
    unit = width(fact.unit, _SIZE) + 3.0 if fact.unit else 0.0
    page.line(((x, y + 10.0), (x + wide - unit, y + 10.0)), thick=0.6)
    if fact.unit:
        page.text(x + wide - unit + 3.0, y + 2.0, fact.unit, _SIZE)
