"""A code to scan: QR, as ISO/IEC 18004 has it, for it holds any letters and a telephone reads it."""

import numpy as np
from reportlab.graphics.barcode.qrencoder import QRCode, QRErrorCorrectLevel

from nest.sheets.page import Page

QUIET_MODULES = 4
"""Left blank around the code (ISO/IEC 18004)."""

_LONGEST = 200


def modules(text: str) -> np.ndarray:
    """The dark modules of the code of a text, (n, n), without the blank around it; level M mends 15 % of them."""
    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(text[:_LONGEST])
    code.make()
    count = code.getModuleCount()
    return np.array([[bool(code.isDark(row, column)) for column in range(count)] for row in range(count)])


def draw_code(page: Page, x: float, y: float, side: float, text: str) -> None:
    """Draw the code of a text with its blank, upper left corner here."""
    dark = modules(text)
    step = side / (len(dark) + 2 * QUIET_MODULES)
    for row, line in enumerate(dark):
        edges = np.flatnonzero(np.diff(np.concatenate(((False,), line, (False,)))))
        for start, end in edges.reshape(-1, 2):
            page.rectangle(
                x + (QUIET_MODULES + start) * step, y + (QUIET_MODULES + row) * step, (end - start) * step, step,
                fill="#000000", colour=None,
            )
