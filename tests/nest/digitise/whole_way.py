"""The whole way: rendered photographs → hides → a verified plan, and where its vamps lie on the true leather."""

import shutil
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import shapely
from camera_scene import CHALKS
from invented import Case, cross_distance, fit, make_case, side

import nest
from nest.cli import main

DEMO = Path(__file__).parents[3] / "demo_data"
LEATHERS = ("black", "dark brown")


@dataclass(frozen=True)
class Placing:
    """Where one vamp came to lie: by how much it leaves the true leather, and how much of it lies on the true scar."""

    hide: str
    beyond_mm: float
    scar_mm2: float


def photographed(seed: int, width: int, folder: Path) -> Case:
    """A side of invented leather with a scar ringed in yellow chalk, its photograph as H{seed}.jpg."""
    rng = np.random.default_rng(seed)
    outline = side(seed)[1]
    turn = np.linspace(0, 2 * np.pi, 40)
    ring = np.array(outline.centroid.coords[0]) + rng.uniform(-250, 250, 2) + 35.0 * np.column_stack(
        (np.cos(turn), np.sin(turn))
    )
    leather = LEATHERS[seed % len(LEATHERS)]
    strokes = [(ring, 6.0, CHALKS["yellow"])]
    case = make_case(seed, width, width * 3 // 4, strokes=strokes, leather=leather, table="light wood", thickness=1.5)
    cv2.imwrite(str(folder / f"H{seed}.jpg"), case.pixels, (cv2.IMWRITE_JPEG_QUALITY, 95))
    return case


def planned(cases: dict[str, Case], folder: Path, order: str, passes: int):
    """Digitise each by its own tape, run a job of the demo's styles on them; the plan, verified."""
    rng = np.random.default_rng(1)
    for name, case in cases.items():
        a, b, length = cross_distance(case, rng)
        code = main(
            [
                "digitise", "hide", str(folder / f"{name}.jpg"), "-o", str(folder / "hides"),
                "--distance", f"{a} {b} {length:.1f}", "--stroke", "yellow=scar severity 2 tears",
                "--rest", "butt class 1", "--stretch", "90", "--quiet",
            ]
        )
        assert code == 0, name
    for name in ("job.toml", "linden-39.dxf", "alder-39.dxf"):
        shutil.copy(DEMO / name, folder)
    headings, *rows = (folder / "hides" / "hides.csv").read_text().splitlines()
    column = headings.split(",")
    cells = [dict(zip(column, row.split(","), strict=True)) for row in rows]
    for one in cells:
        one |= {"file": f"hides/{one['file']}", "leather": "Black side", "lot": "T-9", "class": "1"}
    (folder / "hides.csv").write_text("\n".join([headings, *(",".join(one.values()) for one in cells)]) + "\n")
    (folder / "order.csv").write_text(order)
    text = (folder / "job.toml").read_text().replace("edge_margin_mm = 3.0", 'edge_margin_mm = "measured"')
    (folder / "job.toml").write_text(text)
    plan = nest.make_plan(nest.read_job(folder / "job.toml"), passes=passes)
    assert nest.verify_plan(plan).ok
    return plan


def placings(plan, cases: dict[str, Case]) -> list[Placing]:
    """Every vamp of the plan on the leather as it truly is, the found outline laid on the true one."""
    found = []
    for layout in plan.layouts:
        true, case = cases[layout.hide_id].scene.hide, cases[layout.hide_id]
        hide = next(hide for hide in plan.hides if hide.hide_id == layout.hide_id)
        move = fit(hide.outline, true)
        scar = shapely.Polygon(case.scene.strokes[0][0])
        for one in layout.placed:
            vamp = shapely.Polygon(move(one.pose.apply(plan.piece(one.piece_id).cut_outline)))
            beyond = shapely.get_coordinates(shapely.difference(vamp, true))
            deep = float(shapely.distance(shapely.points(beyond), true).max()) if len(beyond) else 0.0
            found.append(Placing(hide.hide_id, deep, float(shapely.intersection(vamp, scar).area)))
    return found
