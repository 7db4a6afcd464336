"""Size systems against ISO 9407, ISO/TS 19407 and the EU-UK relation."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nest.pieces.sizing import (
    SIZE_SYSTEMS,
    SizeError,
    length_mm,
    ordered,
    position,
    size_label,
    size_system,
    steps_between,
)

PARIS, ENGLISH, MONDOPOINT = (SIZE_SYSTEMS[name] for name in ("paris", "english", "mondopoint"))


def test_steps_of_the_systems():
    """ISO/TS 19407:2015: Paris point 2/3 cm, English 1/3 in, Mondopoint 5 mm or 7.5 mm."""
    assert PARIS.step_mm == Fraction(2, 3) * 10
    assert ENGLISH.step_mm == Fraction(254, 10) / 3
    assert MONDOPOINT.step_mm == 5
    assert SIZE_SYSTEMS["mondopoint-7.5"].step_mm == Fraction(15, 2)


@pytest.mark.parametrize(
    ("english", "length", "paris"),
    [("5", 254.00, 38.10), ("6", 262.47, 39.37), ("7", 270.93, 40.64), ("8", 279.40, 41.91), ("9", 287.87, 43.18)],
)
def test_english_to_paris(english, length, paris):
    """EU = 1.5 L (cm), UK = 3 L (in) - 25 on last length (from memory), so EU = 1.27 (UK + 25), recomputed."""
    assert length_mm(ENGLISH, english) == pytest.approx(length, abs=0.005)
    points = length_mm(ENGLISH, english) / (length_mm(PARIS, "39") - length_mm(PARIS, "38"))
    assert points == pytest.approx(paris, abs=0.005)
    assert points == pytest.approx(1.27 * (float(english) + 25.0))


def test_paris_point_counts_from_zero():
    """Size n is n × 6.667 mm of last; Mondopoint size n is n mm of foot."""
    assert length_mm(PARIS, "39") == pytest.approx(260.0)
    assert length_mm(MONDOPOINT, "245") == 245.0


@pytest.mark.parametrize("spelling", ["38.5", "38,5", "38½", "38 1/2", " 38 ½ "])
def test_spellings_of_a_half_size(spelling):
    """Every way to write a half size is the same size, with one label fit for a file name."""
    assert position(PARIS, spelling) == Fraction(77, 2)
    assert size_label(PARIS, spelling) == "38.5"


def test_thirds_stay_exact():
    """Three steps of a third are one step."""
    assert steps_between(PARIS, "38", "38 1/3") * 3 == 1
    assert steps_between(PARIS, "38 2/3", "39") == Fraction(1, 3)


@pytest.mark.parametrize("name", sorted(SIZE_SYSTEMS))
@pytest.mark.parametrize("part", ["1/3", "2/3"])
def test_the_label_of_a_third_is_a_size(name, part):
    """What the order says is read once more from the label: 38 2/3 is 38.67, and that is 38 2/3; 38.65 is no size."""
    system = size_system(name)
    for whole in ("5", "9", "12") if name == "english" else ("38",) if name == "paris" else ("240",):
        label = size_label(system, f"{whole} {part}")
        assert position(system, label) == position(system, f"{whole} {part}") and size_label(system, label) == label
        with pytest.raises(SizeError):
            position(system, f"{whole}.65")


@pytest.mark.parametrize(("size", "third"), [
    ("38.33", True), ("38.67", True), ("38.3383", True), ("38.33832", True), ("38.33834", False), ("38.328", False),
    ("38.6617", True), ("38.66168", True), ("38.66166", False), ("38.672", False), ("38.999", True), ("38.994", False),
    ("38.004", True), ("38.005", False), ("38.995", False),
])
def test_a_decimal_stands_for_the_third_within_a_two_hundredth(size, third):
    """A size may be off by 0.005 either way; whole sizes count as thirds, and anything further off is no size."""
    if third:
        assert position(PARIS, size) == Fraction(round(3 * float(size)), 3)
    else:
        with pytest.raises(SizeError):
            position(PARIS, size)


def test_english_children_run_into_adults():
    """Children's 13 is followed by adult 1 (common practice, no source): 4 in and 13 thirds make 8 1/3 in."""
    assert length_mm(ENGLISH, "0C") == pytest.approx(101.6)
    assert length_mm(ENGLISH, "13C") == pytest.approx(25.0 / 3.0 * 25.4)
    assert steps_between(ENGLISH, "c13", "1") == 1
    assert ordered(ENGLISH, ["2", "13C", "1", "12 C", "13½C"]) == ("12 C", "13C", "13½C", "1", "2")
    assert size_label(ENGLISH, "12 c") == "12C" and size_label(ENGLISH, "5 1/2") == "5.5"


def test_sizes_are_ordered_by_number_not_by_text():
    """9 comes before 10, and a half size between its neighbours."""
    assert ordered(ENGLISH, ["10", "9", "9.5", "11"]) == ("9", "9.5", "10", "11")


def test_mondopoint_steps():
    """From 240 to 255 are three steps of 5 mm or two of 7.5 mm."""
    assert steps_between(MONDOPOINT, "240", "255") == 3
    assert steps_between(SIZE_SYSTEMS["mondopoint-7.5"], "240", "255") == 2
    assert size_label(SIZE_SYSTEMS["mondopoint-7.5"], "247.5") == "247.5"


@pytest.mark.parametrize(
    ("system", "size"),
    [
        (PARIS, "medium"), (PARIS, ""), (PARIS, "38x"), (PARIS, "38.37"), (PARIS, "380"), (PARIS, "-38"), (PARIS, "5"),
        (PARIS, "38 1/0"), (PARIS, "9" * 5000), (PARIS, "38." + "5" * 5000),
        (PARIS, "38C"), (ENGLISH, "38"), (ENGLISH, "14C"), (ENGLISH, "C12C"), (MONDOPOINT, "38"), (MONDOPOINT, "24.5"),
    ],
)
def test_what_is_no_size_is_named(system, size):
    """The error names what was found and what a size of this system looks like."""
    with pytest.raises(SizeError, match=r"^expected an? .*such as") as caught:
        position(system, size)
    assert caught.value.found == repr(size)
    assert str(caught.value) == f"expected {caught.value.expected}, found {size!r}"


def test_unknown_system_lists_those_there_are():
    """A wrong system name is answered with the right ones."""
    with pytest.raises(SizeError, match=r"paris, english, mondopoint, mondopoint-7\.5, found 'us'"):
        size_system("us")


@given(st.lists(st.integers(32, 106), min_size=3, max_size=3))
def test_steps_add_up(halves):
    """Steps from a to b and from b to c are the steps from a to c; back again they are negative."""
    a, b, c = (f"{half / 2:g}" for half in halves)
    assert steps_between(PARIS, a, b) + steps_between(PARIS, b, c) == steps_between(PARIS, a, c)
    assert steps_between(PARIS, a, b) == -steps_between(PARIS, b, a)


@given(st.integers(32, 106))
def test_label_reads_back(half):
    """A size's label is itself a spelling of the size."""
    size = f"{half // 2} 1/2" if half % 2 else f"{half // 2}"
    assert position(PARIS, size_label(PARIS, size)) == position(PARIS, size)


@pytest.mark.parametrize(("name", "least", "most", "below", "above"), [
    ("paris", "15", "55", "14.5", "55.5"), ("mondopoint", "80", "350", "79.5", "350.5"),
    ("mondopoint-7.5", "80", "350", "79.5", "350.5"), ("english", "0C", "20", "-0.5C", "20.5"),
    ("english", "13.5C", "0.5", "14C", "21"),
])
def test_sizes_go_to_their_limits(name, least, most, below, above):
    """The limits that a refusal names are sizes; half a step or half a millimetre beyond them nothing is."""
    system = size_system(name)
    assert position(system, least) <= position(system, most)
    for size in (below, above):
        with pytest.raises(SizeError) as refused:
            position(system, size)
        assert system.examples in str(refused.value) and size in str(refused.value)
