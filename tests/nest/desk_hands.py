"""What tests do at the page of the desk as a hand does it: points of the hide on the screen, and waiting for states."""

PLACED = "fetch('/hide/H1').then(a => a.json()).then(d => d.pieces.map(p => [p.x, p.y]))"
"""Where the pieces of the first hide lie, by the server."""


def at(page, x, y):
    """The point of the screen where a point of the hide, in mm, is drawn."""
    return page.evaluate(
        """([x, y]) => { const svg = document.querySelector("#picture svg");
        const at = new DOMPoint(10 * x, -10 * y).matrixTransform(svg.getScreenCTM()); return [at.x, at.y]; }""", [x, y])


def settled(page, words):
    """Wait until the verdict reads so."""
    page.locator("#verdict", has_text=words).wait_for(timeout=60_000)


def until(page, script):
    """Wait until a script comes to true; a promise is waited for each time.

    The policy of the page lets a script be asked for from outside alone, so it cannot wait by itself.
    """
    for _ in range(1500):
        if page.evaluate(script):
            return
        page.wait_for_timeout(10)
    raise AssertionError(script)
