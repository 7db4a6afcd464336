"""Photographs of invented sides: how far outline, area, strokes and arrows lie from what was drawn; time and memory.

    python tests/bench/photographs.py [--cases 60] [--width 4000] [--first 5000] [--every 3] [--bare]

Each case is rendered with tilt to 15°, |k1| to 0.1, uneven light, blur, grain, noise, a tone curve off the standard
one, JPEG, eight to sixteen sheets, a print scale of 0.15 %, a tape wrong by 0.5 mm + 0.1 mm/m, leather 1.5 mm thick.
With `--bare` nothing is drawn on the leather, but some sides have a hole. Every third case is also photographed as a
later one of a fixed table, solved from another photograph without a hide.
"""

import argparse
import json
import sys
import time
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import shapely
import shapely.ops

sys.path.append(str(Path(__file__).parents[1] / "nest" / "digitise"))

from camera_scene import CHALKS, LEATHERS, Look, camera_over, render
from invented import area_of, cross_distance, distances, fit, make_case, side

from nest.digitise.hide import find_hide, pages_of
from nest.digitise.meanings import read_meaning
from nest.digitise.picture import Photograph
from nest.digitise.scene import solve_scene
from nest.digitise.solve import Distance
from nest.digitise.strokes import find_strokes
from nest.digitise.table import fixed_table, place_camera
from nest.digitise.vision import PhotographProblem

COLOURS = {
    "black": ("white", "yellow"),
    "dark brown": ("white", "yellow"),
    "tan": ("white", "blue"),
    "grey": ("yellow", "red"),
}
THICKNESS = 1.5


def drawn_strokes(rng, outline, zone_colour: str, flaw_colour: str):
    """Two zones with an arrow each and six flaws, some not quite closed; strokes, and what they mean."""
    strokes, truth, taken = [], [], shapely.Point(-1e6, 0.0)
    inner = outline.buffer(-50.0)
    for kind in ("zone",) * 2 + ("flaw",) * 6:
        for _ in range(400):
            at = rng.uniform(inner.bounds[:2], inner.bounds[2:])
            size = rng.uniform(110, 190) if kind == "zone" else rng.uniform(12, 45)
            turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
            away = size * (
                1 + 0.12 * np.sin(2 * turn + rng.uniform(0, 6)) + 0.06 * np.sin(3 * turn + rng.uniform(0, 6))
            )
            ring = at + np.column_stack((np.cos(turn), np.sin(turn))) * away[:, None]
            shape = shapely.Polygon(ring)
            if shapely.contains(inner, shape) and shapely.distance(shape, taken) > 25.0:
                break
        else:
            continue
        taken = shapely.union(taken, shape)
        width, colour = rng.uniform(4, 8), CHALKS[zone_colour if kind == "zone" else flaw_colour]
        line = shapely.LineString(np.vstack((ring, ring[:1])))
        if rng.random() < 0.2:
            line = shapely.ops.substring(line, 0.0, line.length - width - rng.uniform(2, 12))
        strokes.append((np.array(line.coords), width, colour))
        angle = None
        if kind == "zone":
            angle, length = float(rng.uniform(0, 180)), rng.uniform(50, 90)
            middle = np.array(shape.centroid.coords[0])
            along = np.array((np.cos(np.radians(angle)), np.sin(np.radians(angle))))
            tip = middle + 0.5 * length * along
            bow = rng.normal(0, 0.015) * length * np.array((-along[1], along[0]))
            strokes.append((np.array((middle - 0.5 * length * along, middle + bow, tip)), 0.8 * width, colour))
            for turned in (150.0, -150.0):
                away = np.radians(angle + turned + rng.normal(0, 5))
                strokes.append(
                    (np.array((tip, tip + 18.0 * np.array((np.cos(away), np.sin(away))))), 0.8 * width, colour)
                )
        truth.append((kind, shape, angle))
    return strokes, truth


def judged_strokes(found, truth, move):
    """(drawn, found, invented, worst place in mm, worst arrow in degrees)."""
    turned = move(np.array(((0.0, 0.0), (1.0, 0.0))))
    frame = np.degrees(np.arctan2(*(turned[1] - turned[0])[::-1]))
    left, hits, places, arrows = list(found), 0, [0.0], [0.0]
    for kind, shape, angle in truth:
        for one in left:
            laid = shapely.transform(one.outline, move)
            union = shapely.union(laid, shape).area
            if one.meaning.zone == (kind == "zone") and shapely.intersection(laid, shape).area > 0.5 * union:
                hits += 1
                places.append(float(np.hypot(*np.subtract(laid.centroid.coords[0], shape.centroid.coords[0]))))
                if angle is not None:
                    off = 90.0 if one.stretch_deg is None else (one.stretch_deg + frame - angle + 90.0) % 180.0 - 90.0
                    arrows.append(abs(off))
                left.remove(one)
                break
    return len(truth), hits, len(left), max(places), max(arrows)


def later(case, photograph, seed: int):
    """The photograph as a later one of a fixed table: the table solved from another place, without the hide."""
    rng = np.random.default_rng(seed)
    width, height = photograph.size
    area = area_of(case.scene.hide, case.scene.sheets)
    other = camera_over(rng, width, height, area, 8.0, case.camera.k1, case.camera.k2)
    middle = np.array((0.5 * (area[0] + area[2]), 0.5 * (area[1] + area[3]), 0.0))
    far = middle + (-other.turn.T @ other.shift - middle) * max(1.0, case.camera.focal / other.focal)
    # Cameras breathe as they focus.
    focal = case.camera.focal * (1.0 + rng.normal(0.0, 0.001))
    camera = replace(case.camera, turn=other.turn, shift=-other.turn @ far, focal=focal)
    bare = replace(case.scene, hide=shapely.Point(middle[:2]).buffer(1.0), strokes=[])
    empty = Photograph("table.jpg", render(bare, camera, Look(blur=max(0.6, 0.9 * width / 4000.0)), seed))
    table = fixed_table(solve_scene([empty], distances=[Distance(*cross_distance(case, rng))]))
    return place_camera(photograph, table)


def one_case(seed: int, width: int, fixed: bool, bare: bool = False) -> dict:
    """All measures of one case."""
    rng = np.random.default_rng(seed + 10_000)
    leather = list(LEATHERS)[seed % 4]
    strokes, truth = ([], []) if bare else drawn_strokes(rng, side(seed)[1], *COLOURS[leather])
    case = make_case(
        seed, width, width * 3 // 4, strokes=strokes, leather=leather, thickness=THICKNESS,
        holes=int(rng.integers(0, 2)) if not strokes else 0,
    )
    photograph = Photograph(f"S{seed}.jpg", case.pixels)
    true, row = case.scene.hide, {"seed": seed, "sheets": len(case.scene.sheets)}
    started = time.process_time()
    scene = solve_scene([photograph], distances=[Distance(*cross_distance(case, rng))])
    found = find_hide(photograph, scene, THICKNESS)
    meanings = [
        read_meaning(COLOURS[leather][0], "belly class 2"),
        read_meaning(COLOURS[leather][1], "scar severity 2"),
    ]
    asked = () if bare else meanings
    got, _ = find_strokes(photograph.light, found.view, found.outline, pages_of(scene), asked, THICKNESS, "S")
    row["seconds"] = time.process_time() - started
    ways = {"tape": found, "marks": find_hide(photograph, solve_scene([photograph]), THICKNESS)}
    if fixed:
        ways["table"] = find_hide(photograph, later(case, photograph, seed), THICKNESS)
    row["doubt"] = {}
    for name, one in ways.items():
        away = distances(one.outline, true)
        off = one.outline.area - true.area
        row[name] = (
            away.mean(),
            np.percentile(away, 95),
            off / true.area,
            np.percentile(away, 95) <= one.doubt.within_mm,
            abs(off) <= one.doubt.area_mm2,
            one.doubt.within_mm,
        )
        row["doubt"][name] = (float(np.percentile(away, 95) / one.doubt.within_mm), float(off / one.doubt.area_mm2))
    row["strokes"] = judged_strokes(got, truth, fit(found.outline, true))
    return row


def main() -> None:
    """Print a line a case, then the table."""
    import resource

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=60)
    parser.add_argument("--width", type=int, default=4000)
    parser.add_argument("--first", type=int, default=5000)
    parser.add_argument("--every", type=int, default=3)
    parser.add_argument("--bare", action="store_true")
    parser.add_argument("--save", type=Path, help="add a line of JSON a case to this file")
    asked = parser.parse_args()
    cv2.setNumThreads(1)
    rows = []
    for i in range(asked.cases):
        try:
            rows.append(one_case(asked.first + i, asked.width, i % asked.every == 0, asked.bare))
        except PhotographProblem as problem:
            print(f"{asked.first + i}: refused: {problem}", flush=True)
            continue
        row = rows[-1]
        if asked.save is not None:
            with open(asked.save, "a", encoding="utf-8") as stream:
                stream.write(json.dumps(row, default=float) + "\n")
        words = ", ".join(
            f"{name} {row[name][0]:.2f} {row[name][1]:.2f} mm {row[name][2]:+.2%} (± {row[name][5]:.2f})"
            for name in ("tape", "marks", "table")
            if name in row
        )
        print(
            f"{row['seed']}: {row['sheets']} sheets; {words}; strokes {row['strokes']}; {row['seconds']:.1f} s",
            flush=True,
        )
    print()
    for name in ("tape", "marks", "table"):
        all_of = np.array([row[name] for row in rows if name in row], dtype=float)
        if len(all_of):
            (mean, most), area = (all_of[:, :2].mean(axis=0), all_of[:, :2].max(axis=0)), np.abs(all_of[:, 2])
            print(f"{name:6} n {len(all_of)}: mean {mean[0]:.2f} (worst {most[0]:.2f}), 95 % {mean[1]:.2f} "
                  f"(worst {most[1]:.2f}) mm; area {area.mean():.3%} (worst {area.max():.3%}); ± holds: outline "
                  f"{all_of[:, 3].mean():.0%}, area {all_of[:, 4].mean():.0%}")
    drawn, hits, invented, place, arrow = np.array([row["strokes"] for row in rows], dtype=float).T
    if drawn.sum():
        print(f"strokes drawn {drawn.sum():.0f}, found {hits.sum() / drawn.sum():.1%}, invented "
              f"{invented.sum() / drawn.sum():.1%}, place worst {place.max():.1f} mm, arrow worst {arrow.max():.1f}°")
    seconds = [row["seconds"] for row in rows]
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"seconds median {np.median(seconds):.1f}, most {max(seconds):.1f}; with the renderer {memory:.0f} MB")


if __name__ == "__main__":
    main()
