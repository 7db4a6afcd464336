"""Timetables of plans: every value of the job and of the shifts is kept by the clock, and hides are cut in time."""

import csv
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from functools import cache
from itertools import combinations

import pytest
from legible import hold_legible
from typer.testing import CliRunner
from vamp_plans import vamp_plan

from nest.cli.app import app
from nest.cutplan.stamp import stamp_of
from nest.errors import PlanProblem
from nest.job.costing import Costing
from nest.job.shifts import Shifts, Station
from nest.pieces.crimping import Crimping
from nest.planfile import write_plan
from nest.report.figures import new_axes
from nest.tickets import batches_of
from nest.timetable import planned_of, proof_words, timetable_of, write_timetable
from nest.timetable.chart import days_of, draw_day

STATED = Crimping(batch_pairs=6, bond_set_h=0.5, bag_least_h=8.0, bag_most_h=26.0, wait_h=3.0)
STATIONS = (
    Station("bond", 1, 50.0, (), None, 5.0), Station("soften", 1, 30.0), Station("crimp", 2, 95.0, (), None, 10.0),
    Station("check", 1, 20.0), Station("trim", 1, 60.0),
)


def days(count=6, first=2):
    """Shifts from 6 to 14 with two breaks, in March 2026."""
    parts = ((6, 0, 9, 0), (9, 15, 12, 0), (12, 30, 14, 0))
    return tuple((datetime(2026, 3, day, a, b), datetime(2026, 3, day, c, d))
                 for day in range(first, first + count) for a, b, c, d in parts)


drawn = cache(vamp_plan)


def plan_of(hides=3, stated=STATED):
    """A plan of some hides whose style states this."""
    plan = drawn(hides)
    return replace(plan, styles=(replace(plan.styles[0], crimping=stated),))


PLAN = plan_of()
SHIFTS = Shifts(days(), STATIONS)
BATCHES = batches_of(PLAN)
TABLE = timetable_of(PLAN, BATCHES, SHIFTS)


def worked(begin, end):
    """Working minutes between two times."""
    return sum(max(0.0, (min(end, b) - max(begin, a)).total_seconds() / 60.0) for a, b in SHIFTS.stretches)


MINUTE = timedelta(minutes=1)


def said_back(words):
    """A time as it is said, read back."""
    return datetime.strptime(f"2026 {words}", "%Y %a %d %b %H:%M")


def test_every_batch_passes_every_station_for_as_long_as_its_pairs_take():
    """Seconds a pair and setting up, in working minutes, none outside of a shift; no machine has two batches."""
    per_pair = {station.does: station for station in STATIONS}
    for batch in BATCHES:
        own = TABLE.of(batch)
        assert [*own] == ["bond", "soften", "crimp", "check", "trim"]
        for does, slot in own.items():
            taken = batch.pairs * per_pair[does].s_per_pair / 60.0 + per_pair[does].set_up_min
            assert taken <= worked(slot.begin, slot.end) < taken + 1.0
            assert any(a <= slot.begin < b for a, b in SHIFTS.stretches)
            assert any(a < slot.end <= b for a, b in SHIFTS.stretches)
    for one, other in combinations(TABLE.slots, 2):
        if (one.does, one.machine) == (other.does, other.machine):
            assert one.end <= other.begin or other.end <= one.begin
    assert {slot.machine for slot in TABLE.slots if slot.does == "crimp"} == {1, 2}


def test_rest_and_waits_run_by_the_clock():
    """At least the hours stated from the end of a step to the next; at most those from spraying to the last crimped."""
    for batch in BATCHES:
        own = TABLE.of(batch)
        assert own["soften"].begin - own["bond"].end >= timedelta(hours=0.5)
        assert own["crimp"].begin - own["soften"].end >= timedelta(hours=8)
        assert own["crimp"].end - own["soften"].begin <= timedelta(hours=26)
        assert own["check"].begin - own["crimp"].end >= timedelta(hours=3)
        assert own["trim"].begin >= own["check"].end
    assert TABLE.proved and TABLE.end == max(slot.end for slot in TABLE.slots)


def test_hides_are_due_when_their_first_batch_is_bonded():
    """Every hide once; without a station that cuts, nothing is said of when it lies on the table."""
    assert sorted(hide.hide_id for hide in TABLE.hides) == sorted(layout.hide_id for layout in PLAN.layouts)
    for hide in TABLE.hides:
        begins = [TABLE.of(batch)["bond"].begin for batch in BATCHES if hide.hide_id in batch.hides]
        assert hide.by == min(begins) and hide.cut is None


def test_a_batch_waits_until_its_hides_are_cut():
    """With a station that cuts, hides go over it in the order of the plan, and bonding follows."""
    shifts = replace(SHIFTS, stations=(Station("cut", s_per_hide=2400.0, set_up_min=5.0), *STATIONS))
    table = timetable_of(PLAN, BATCHES, shifts)
    cut = {hide.hide_id: hide.cut for hide in table.hides}
    order = [layout.hide_id for layout in PLAN.layouts]
    assert [cut[hide][0] for hide in order] == [datetime(2026, 3, 2, 6, 0), datetime(2026, 3, 2, 6, 45),
                                                datetime(2026, 3, 2, 7, 30)]
    for batch in BATCHES:
        assert table.of(batch)["bond"].begin >= max(cut[hide][1] for hide in batch.hides)
    assert table.end >= TABLE.end


def test_tickets_say_between_which_hours_to_crimp():
    """From eight hours after the end of spraying, when a shift is at work; to the last work within 26 hours of it."""
    planned = planned_of(PLAN, TABLE)
    assert planned.keys() == {batch.name for batch in BATCHES}
    for batch in BATCHES:
        own, said = TABLE.of(batch), planned[batch.name]
        assert own["soften"].end.hour < 14 and said.earliest == "Tue 3 Mar 06:00"
        latest, limit = said_back(said.latest), own["soften"].begin + timedelta(hours=26)
        assert own["crimp"].end <= latest <= limit and worked(latest, limit) == 0.0 < worked(latest - MINUTE, latest)
        assert ("machine" in said.times["crimp"]) and ("machine" not in said.times["bond"])


@pytest.mark.parametrize(("stated", "stations", "said"), [
    (replace(STATED, bag_least_h=None), STATIONS, "state bag_least_h"),
    (STATED, STATIONS[1:], "no station does bond"),
    (STATED, STATIONS[:3] + STATIONS[4:], "no station does check"),
    (STATED, (*STATIONS[:2], Station("crimp", 2), *STATIONS[3:]), "states no time"),
    (replace(STATED, bag_most_h=8.2), STATIONS, "make batch_pairs smaller"),
    (replace(STATED, bag_most_h=12.0), STATIONS, "bag_most_h above 12 h"),
    (STATED, (replace(STATIONS[0], s_per_pair=9000.0), *STATIONS[1:]), "h of work"),
])
def test_what_is_missing_or_cannot_be_is_refused_in_words(stated, stations, said):
    """No time is made up; where shifts or hours leave no way, it is said which."""
    plan = plan_of(2, stated)
    with pytest.raises(PlanProblem, match=said):
        timetable_of(plan, batches_of(plan), Shifts(days(2), stations))


def test_seconds_at_the_press_come_from_the_costing_where_the_station_states_none():
    """The job states them once."""
    stations = (*STATIONS[:2], Station("crimp", 2, None, (), None, 10.0), *STATIONS[3:])
    costing = Costing(press_per_hour=Decimal(30), press_s_per_pair=Decimal(95))
    plan = replace(PLAN, settings=replace(PLAN.settings, costing=costing))
    assert timetable_of(plan, BATCHES, replace(SHIFTS, stations=stations)).end == TABLE.end


def test_one_order_lets_no_batch_overtake():
    """At every station batches begin in one order."""
    table = timetable_of(PLAN, BATCHES, replace(SHIFTS, one_order=True))
    for one, other in combinations(BATCHES, 2):
        apart = [table.of(one)[does].begin - table.of(other)[does].begin for does in table.of(one)]
        assert all(gap >= timedelta(0) for gap in apart) or all(gap <= timedelta(0) for gap in apart)


def test_lists_for_the_wall_are_legible(tmp_path):
    """Sheets, tables and a chart a day; every hide and every batch is on a list."""
    sheets = write_timetable(PLAN, TABLE, tmp_path, stamp_of(PLAN, "2026-03-02T05:50:00Z"))
    words = " ".join(box.text for sheet in sheets for page in sheet.pages for box in page.boxes)
    for sheet in sheets:
        for page in sheet.pages:
            hold_legible(page)
    assert all(batch.name in words for batch in BATCHES) and all(hide.hide_id in words for hide in TABLE.hides)
    charts = {path.name for path in tmp_path.glob("day-*")}
    assert charts == {f"day-{day.isoformat()}.{kind}" for day in days_of(TABLE) for kind in ("png", "pdf")}
    with open(tmp_path / "timetable.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(TABLE.slots) and rows[0]["begin"] == "2026-03-02T06:00"


def test_a_chart_shows_each_bar_in_its_hours_and_no_name_on_another():
    """Bars of a station add up to its working time of the day; names lie apart."""
    for day in days_of(TABLE):
        ax = draw_day(new_axes(11.0, 2.6), TABLE, day)
        drawn = sum(bar.get_width() for bar in ax.patches if bar.get_height() == pytest.approx(0.74))
        midnight = datetime(day.year, day.month, day.day)
        parts = [(max(slot.begin, midnight), min(slot.end, midnight + timedelta(days=1))) for slot in TABLE.slots]
        assert 60.0 * drawn == pytest.approx(sum(worked(a, b) for a, b in parts if a < b))
        ax.figure.draw_without_rendering()
        boxes = [text.get_window_extent() for text in ax.texts if text.get_text()]
        assert not [1 for one, other in combinations(boxes, 2) if one.overlaps(other)]


def test_the_command_writes_all_and_says_what_is_proved(tmp_path):
    """Tickets bear their hours; the print file begins with the lists; a fault of the shifts writes nothing."""
    write_plan(PLAN, tmp_path / "plan.json")
    stations = "\n".join(
        f'[[station]]\ndoes = "{one.does}"\nmachines = {one.machines}\ns_per_pair = {one.s_per_pair}'
        for one in STATIONS
    )
    text = f'first_day = 2026-03-02\n[[shift]]\nbegin = "06:00"\nend = "14:00"\n{stations}\n'
    (tmp_path / "shifts.toml").write_text(text, encoding="utf-8")
    plan, shifts, out = (str(tmp_path / name) for name in ("plan.json", "shifts.toml", "out"))
    words = ["tickets", plan, "--shifts", shifts, "-o", out]
    found = CliRunner().invoke(app, words)
    assert "proved: no timetable of these batches" in found.stdout and "cut by" in found.stdout
    written = {path.name for path in (tmp_path / "out").iterdir()}
    assert {"timetable.csv", "hides.csv", "batches.csv", "hides-to-cut.pdf", "list-2026-03-02.pdf"} <= written
    (tmp_path / "shifts.toml").write_text(text.replace("06:00", "26:00"), encoding="utf-8")
    assert CliRunner().invoke(app, [*words[:-1], str(tmp_path / "again")]).exit_code != 0
    assert not (tmp_path / "again").exists()


def test_what_is_not_proved_is_said():
    """The gap to the bound stands in the sentence."""
    assert "at most 35 working minutes could be saved" in proof_words(replace(TABLE, gap_min=35))
