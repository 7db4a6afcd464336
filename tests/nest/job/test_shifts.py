"""A file of shifts and stations: stretches of work without a break, and what is refused."""

from datetime import datetime

import pytest

from nest.errors import InputProblems
from nest.job.shifts import Station, read_shifts

SHIFTS = """
first_day = 2026-03-06           # a Friday
first_time = "07:00"
days = 5
free = ["2026-03-09"]

[[shift]]
begin = "06:00"
end = "14:00"
breaks = ["12:00-12:30", "09:00-09:15"]

[[shift]]
begin = 14:00:00
end = "22:00"
days = ["Fri"]

[[station]]
does = "crimp"
machines = 2
s_per_pair = 90
set_up_min = 10
s_per_pair_by_style = { "Linden boot" = 100 }

[[station]]
does = "trim"
"""


def written(tmp_path, text=SHIFTS):
    """The text as a file."""
    (tmp_path / "shifts.toml").write_text(text, encoding="utf-8")
    return tmp_path / "shifts.toml"


def at(day, hour, minute=0):
    """A time in March 2026."""
    return datetime(2026, 3, day, hour, minute)


def test_stretches_of_work_leave_out_breaks_free_days_and_what_is_past(tmp_path):
    """Friday from the first time on, its second shift joined to the first; no weekend, no free Monday; then Tuesday."""
    found = read_shifts(written(tmp_path), ["Linden boot"])
    assert found.stretches == (
        (at(6, 7), at(6, 9)), (at(6, 9, 15), at(6, 12)), (at(6, 12, 30), at(6, 22)),
        (at(10, 6), at(10, 9)), (at(10, 9, 15), at(10, 12)), (at(10, 12, 30), at(10, 14)),
    )
    assert found.stations[0] == Station("crimp", 2, 90.0, (("Linden boot", 100.0),), None, 10.0)
    assert found.stations[0].seconds_a_pair("Linden boot") == 100.0 and found.stations[0].seconds_a_pair("x") == 90.0
    assert found.stations[1].seconds_a_pair("x") is None and not found.one_order


def test_a_shift_over_midnight_belongs_to_the_day_it_begins_on(tmp_path):
    """Its breaks behind midnight too, and that of the night before the first day."""
    text = 'first_day = 2026-03-03\ndays = 1\n[[shift]]\nbegin = "22:00"\nend = "06:00"\nbreaks = ["01:30-02:00"]\n' \
        '[[station]]\ndoes = "trim"\n'
    found = read_shifts(written(tmp_path, text), [])
    assert found.stretches == (
        (at(3, 0), at(3, 1, 30)), (at(3, 2), at(3, 6)), (at(3, 22), at(4, 1, 30)), (at(4, 2), at(4, 6)),
    )


@pytest.mark.parametrize(("old", "new", "said"), [
    ('begin = "06:00"', 'begin = "6 o\'clock"', "write it as 06:30"),
    ("14:00:00", "14:00:30", "write it as 06:30"),
    ('"12:00-12:30"', '"12:30-12:00"', "breaks within the shift"),
    ('"12:00-12:30"', '"09:10-12:30"', "breaks within the shift"),
    ('"12:00-12:30"', '"13:30-14:30"', "breaks within the shift"),
    ('"12:00-12:30"', '"noon"', "09:00-09:20"),
    ("begin = 14:00:00", 'begin = "13:00"', "shifts that do not overlap"),
    ('["Fri"]', '["Friday"]', "Mon, Tue"),
    ('days = ["Fri"]', "days = []", "at least one entry"),
    ("days = 5", "days = 0", "days of at least 1"),
    ("days = 5", "days = 400", "days of at most 60"),
    ("machines = 2", "machines = 0", "machines of at least 1"),
    ("s_per_pair = 90", "s_per_pair = -1", "s_per_pair above 0"),
    ('does = "trim"', 'does = "crimp"', "one station that does crimp"),
    ('does = "trim"', 'does = "polish"', "cut, bond, soften"),
    ('does = "trim"', 'does = "trim"\ns_per_hide = 3', "s_per_pair for a station that does trim"),
    ('does = "trim"', 'does = "cut"', "s_per_hide alone"),
    ('"Linden boot" =', '"Lindon boot" =', "did you mean 'Linden boot'"),
    ("2026-03-06  ", "2026-02-30  ", ""),
    ('free = ["2026-03-09"]', 'free = ["2026-03-06", "2026-03-09", "2026-03-10"]', "a day with a shift"),
    ("first_time", "first_tyme", "did you mean 'first_time'"),
])
def test_faults_are_said_with_file_and_line(tmp_path, old, new, said):
    """One sentence each; nothing is guessed."""
    assert old in SHIFTS
    with pytest.raises(InputProblems) as caught:
        read_shifts(written(tmp_path, SHIFTS.replace(old, new, 1)), ["Linden boot"])
    (problem,) = caught.value.problems
    assert said in str(problem) and str(problem).startswith("shifts.toml")


def test_a_file_without_shifts_is_refused(tmp_path):
    """Shifts, stations and the first day are needed."""
    with pytest.raises(InputProblems) as caught:
        read_shifts(written(tmp_path, "days = 3\n"), [])
    assert {"first_day", "shift", "station"} <= set(" ".join(map(str, caught.value.problems)).replace(",", "").split())
