"""Runs that did not come to their end go on where they were, and one material that fails does not lose the others."""

from dataclasses import replace

import numpy as np
import pytest
from box_jobs import ROWS, STRAIGHT, flaw, hide, job, roll, rows_region, rows_strip, style, zone
from shapely.geometry import box

from geometry.pose import Pose
from nest.placement.problem import Ground, Item, Kind, Layout, RegionProblem, StripProblem
from nest.planfile import plan_text
from nest.planning.keeping import Keeper, digest, read_layouts, unfinished_folder, write_layouts
from nest.planning.make import make_plan
from nest.planning.offer import see_hide
from nest.planning.run import Engine
from nest.verify import verify

JOB = job(
    styles=(style(roll="knit", rules=STRAIGHT),), order=(("box", "38", 8), ("box", "40", 8)), rolls=(roll(),),
    hides=[hide(f"H{i}", 1000.0, 500.0 + 10.0 * i) for i in range(1, 7)],
)
TURNED = replace(JOB, styles=(style(roll="knit"),))
"""The same with the usual tolerance: what is short has no exact place on a hide that the engine fails on."""


class Killed(BaseException):
    """Ends a run wherever it is."""


class Counting:
    """The plain engine; counts what it is asked, and ends the run before question number `deadly`."""

    def __init__(self, deadly=None):
        self.asked, self.deadly = 0, deadly

    def engine(self) -> Engine:
        """The engine, watched."""
        return Engine(self._watched(rows_region), self._watched(rows_strip))

    def _watched(self, solve):
        def asked(problem, stop, **more):
            if self.asked == self.deadly:
                raise Killed
            self.asked += 1
            return solve(problem, stop, **more)

        return asked


def kept_plan(folder, counting, the_job=JOB, **more):
    """The plan by an engine whose answers are kept in `folder`, as text."""
    keeper = Keeper(folder, counting.engine())
    return plan_text(make_plan(the_job, passes=1, engine=keeper.keeping(), **more)), keeper


def test_a_run_goes_on_where_it_was_ended(tmp_path):
    """Ended before the first, second, middle or last solve: the next run asks for the rest and makes the same plan."""
    alone = Counting()
    whole = plan_text(make_plan(JOB, passes=1, engine=alone.engine()))
    assert alone.asked >= 7
    for at in (0, 1, alone.asked // 2, alone.asked - 1):
        folder = tmp_path / str(at)
        with pytest.raises(Killed):
            kept_plan(folder, Counting(deadly=at))
        rest = Counting()
        text, keeper = kept_plan(folder, rest)
        assert text == whole
        assert (rest.asked, keeper.reused) == (alone.asked - at, at)
        keeper.forget()
        assert not folder.exists()


@pytest.mark.slow
def test_what_was_kept_badly_is_placed_again(tmp_path):
    """Files that are empty, cut short, of another program or with poses that are none: placed anew, the same plan."""
    whole, _ = kept_plan(tmp_path / "u", Counting())
    files = sorted((tmp_path / "u").glob("*.layouts.json"))
    bad = ("", "{", "[]", '{"version": 1}', '{"version": 99, "layouts": []}', '{"version": 1, "layouts": [{}]}',
           '{"version": 1, "layouts": [{"length_mm": 0, "items": [[7, 0, 0, 0]]}]}',
           '{"version": 1, "layouts": [{"length_mm": 0, "items": [[0, 1e999, 0, 0]]}]}', "[" * 100_000)
    for i, file in enumerate(files):
        file.write_text(bad[i % len(bad)])
    for i, text in enumerate(bad):
        (tmp_path / f"{i}.json").write_text(text)
        assert read_layouts(tmp_path / f"{i}.json", 2) is None
    again = Counting()
    assert kept_plan(tmp_path / "u", again)[0] == whole
    assert again.asked == len(files)


def test_a_folder_that_cannot_be_written_costs_the_memory_only(tmp_path):
    """Where a file stands in the folder's place the plan is made all the same."""
    (tmp_path / "u").write_text("in the way")
    counting = Counting()
    text, keeper = kept_plan(tmp_path / "u", counting)
    assert text == plan_text(make_plan(JOB, passes=1, engine=ROWS)) and keeper.reused == 0
    assert (tmp_path / "u").read_text() == "in the way"


def test_what_changed_is_placed_anew(tmp_path):
    """With a flaw more on the third hide, layouts of the first two are used again; the third is asked for."""
    kept_plan(tmp_path / "u", Counting())
    hides = list(JOB.hides)
    hides[2] = replace(hides[2], flaws=(flaw(box(100, 100, 300, 300)),))
    changed, again = replace(JOB, hides=tuple(hides)), Counting()
    text, keeper = kept_plan(tmp_path / "u", again, changed)
    assert text == plan_text(make_plan(changed, passes=1, engine=ROWS))
    assert keeper.reused >= 2 and again.asked >= 1


def test_what_the_user_cut_off_is_not_kept(tmp_path):
    """A layout found while the user stops the run is no answer for the next one."""
    kept_plan(tmp_path / "u", Counting(), cancelled=lambda: True)
    assert not (tmp_path / "u").exists()


def test_layouts_survive_their_file(tmp_path):
    """Poses come back to the last bit."""
    rng = np.random.default_rng(1)
    layouts = tuple(
        Layout(tuple(Item(int(rng.integers(3)), Pose(*rng.normal(0.0, 1e3, 3))) for _ in range(n)), float(n))
        for n in range(4)
    )
    write_layouts(tmp_path / "a.json", layouts)
    assert read_layouts(tmp_path / "a.json", 3) == layouts


def test_the_folder_lies_beside_the_results(tmp_path):
    """The name says what it is, and of which results."""
    assert unfinished_folder(tmp_path / "out") == tmp_path / "out.unfinished"


def test_any_change_of_the_question_changes_its_name():
    """Each field of a problem, seed, passes and classes of ground count; a like question has the same name."""
    square = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])
    kind, ground = Kind("a", square, square, (0.0, 180.0), 3), Ground(box(0, 0, 9, 9), (box(0, 0, 9, 9),) * 2)
    plain = RegionProblem((kind,), (ground,), 1.0)
    strip = StripProblem((kind,), 5.0)
    questions = [
        (plain, 1, None), (plain, 2, None), (plain, 1, 3), (strip, 1, None), (replace(strip, width_mm=6.0), 1, None),
        (replace(plain, gap_mm=2.0), 1, None), (replace(plain, level=lambda k, pose: int(pose.x > 4)), 1, None),
        (replace(plain, level=lambda k, pose: 1), 1, None),
    ]
    for changes in ({"name": "b"}, {"outline": square * 2}, {"core": square / 2}, {"headings_deg": (0.0,)},
                    {"limit": 4}, {"family": "f"}, {"side": 1}):
        questions.append((replace(plain, kinds=(replace(kind, **changes),)), 1, None))
    for changes in ({"outline": box(0, 0, 9, 8)}, {"core": (box(0, 0, 9, 9), box(0, 0, 9, 8))}):
        questions.append((replace(plain, grounds=(replace(ground, **changes),)), 1, None))
    names = [digest(*question) for question in questions]
    assert len(set(names)) == len(names)
    like = RegionProblem((replace(kind, outline=square.copy()),), (replace(ground, outline=box(0, 0, 9, 9)),), 1.0)
    assert digest(like, 1, None) == names[0]


@pytest.mark.parametrize("error", [MemoryError(), ValueError("odd"), ZeroDivisionError("x")])
def test_one_hide_that_fails_does_not_lose_the_others(error):
    """Whatever goes wrong on one hide, the others are planned, the plan is right, and it is said."""

    def failing(problem, stop, **more):
        if abs(problem.grounds[0].outline.bounds[3] - 520.0) < 1.0:  # H2
            raise error
        return rows_region(problem, stop, **more)

    plan = make_plan(TURNED, passes=1, engine=Engine(failing, rows_strip))
    verdict = verify(plan)
    assert verdict.ok and verdict.order_met
    assert "H2" not in [layout.hide_id for layout in plan.layouts] and len(plan.layouts) >= 2
    said = [warning for warning in plan.warnings if warning.startswith("hide H2: placing failed")]
    assert len(said) == 1 and type(error).__name__ in said[0]


def test_a_hide_whose_ground_cannot_be_worked_out_does_not_lose_the_others(monkeypatch):
    """The ground of H2 fails: it is left out, and it is said."""

    def failing(hide, *given, **more):
        if hide.hide_id == "H2":
            raise ValueError("odd ground")
        return see_hide(hide, *given, **more)

    monkeypatch.setattr("nest.planning.hides.see_hide", failing)
    plan = make_plan(TURNED, passes=1, engine=Engine(rows_region, rows_strip))
    verdict = verify(plan)
    assert verdict.ok and verdict.order_met
    assert "H2" not in [layout.hide_id for layout in plan.layouts]
    assert any(warning.startswith("hide H2: placing failed (ValueError odd ground)") for warning in plan.warnings)


def test_a_roll_that_fails_does_not_lose_the_hides():
    """Hides are planned, the roll's pieces are short, and it is said."""

    def failing(problem, stop, **more):
        raise MemoryError

    plan = make_plan(JOB, passes=1, engine=Engine(rows_region, failing))
    verdict = verify(plan)
    assert verdict.ok and not verdict.order_met and plan.layouts and not plan.lays
    assert any(warning.startswith("roll knit: placing failed (MemoryError)") for warning in plan.warnings)


def test_a_hide_whose_ground_fails_does_not_lose_the_others():
    """Overlapping classes under a pair, an odd zone: planned or said, never a lost plan."""
    odd = [zone("a", box(0, 0, 1000, 260)), zone("b", box(0, 258, 1000, 500), quality=1, stretch_deg=90.0)]
    plan = make_plan(replace(JOB, hides=(hide("odd", zones=odd), *JOB.hides)), passes=1, engine=ROWS)
    assert verify(plan).ok
