"""Small jobs for tests, cut down from the demo job: one style, one hide, a few pairs."""

import shutil
from pathlib import Path

from nest.cli.demo import copy_demo


def small_job(folder: Path, *, pairs: dict[str, int], hides: int = 1) -> Path:
    """Write a job of one style of the demo (its own mirror image) in `folder`; `pairs` wanted by size."""
    path = copy_demo(folder)
    text = path.read_text(encoding="utf-8")
    parts = text.split("[[style]]")
    path.write_text("[[style]]".join(parts[:2]), encoding="utf-8")
    lines = [f"Linden boot,{size},{count}" for size, count in pairs.items()]
    (folder / "order.csv").write_text("\n".join(["style,size,pairs", *lines, ""]), encoding="utf-8")
    index = folder / "hides.csv"
    rows = index.read_text(encoding="utf-8").splitlines()
    index.write_text("\n".join([*rows[: 1 + hides], ""]), encoding="utf-8")
    for drawing in sorted((folder / "hides").iterdir())[hides:]:
        drawing.unlink()
    for name in ("order.xlsx", "alder-39.dxf"):
        (folder / name).unlink()
    shutil.rmtree(folder / "__pycache__", ignore_errors=True)
    return path
