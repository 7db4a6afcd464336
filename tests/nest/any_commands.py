"""Commands of every kind that needs no search, for plans as `edited_plans.two_hides`, as hypothesis draws them."""

from hypothesis import strategies as st

from nest.edits import commands as do

HIDES = st.sampled_from(["H1", "H2", "H3"])
NUMBERS = st.integers(1, 5)
CUT = st.lists(NUMBERS, max_size=2).map(tuple)
X, Y = st.integers(0, 1000).map(float), st.integers(0, 500).map(float)
TURN = st.sampled_from([0.0, 180.0, 45.0, 3.25])
LOOP = st.tuples(X, Y, st.integers(5, 300), st.integers(5, 300)).map(
    lambda at: ((at[0], at[1]), (at[0] + at[2], at[1]), (at[0] + at[2], at[1] + at[3]), (at[0], at[1] + at[3])))
ANY = st.one_of(
    st.builds(do.MarkFlaw, HIDES, st.just("scar"), st.integers(0, 3), st.tuples(st.tuples(X, Y)), st.just(False),
              st.just(4.0), st.booleans(), st.booleans()),
    st.builds(do.DropFlaw, HIDES, st.sampled_from(["F01", "F02"])),
    st.builds(do.MarkZone, HIDES, st.integers(1, 3), TURN, LOOP),
    st.builds(do.SetZone, HIDES, st.sampled_from(["butt", "zone"]), st.integers(1, 3), st.none() | TURN),
    st.builds(do.StretchUnknown, HIDES, st.sampled_from(["", "butt"])), st.builds(do.CutOff, HIDES, CUT),
    st.builds(do.NotCut, HIDES, CUT), st.builds(do.Spoil, HIDES, CUT), st.builds(do.Sound, HIDES, CUT),
    st.builds(do.CutLay, st.sampled_from(["L1", "L2"]), st.none() | st.integers(0, 2)),
    st.builds(do.SplitZone, HIDES, st.just("butt"), st.tuples(st.tuples(X, Y), st.tuples(X, Y)), st.integers(1, 3),
    TURN),
    st.builds(do.TrimEdge, HIDES, LOOP), st.builds(do.Hold, HIDES, st.lists(NUMBERS, max_size=2).map(tuple)),
    st.builds(do.Free, HIDES, st.just(())), st.builds(do.BanHide, HIDES), st.builds(do.AllowHide, HIDES),
    st.builds(do.MovePiece, HIDES, NUMBERS, X, Y, TURN), st.builds(do.TakeOut, HIDES, NUMBERS),
    st.builds(do.PutIn, HIDES, st.just("V38"), X, Y, TURN), st.builds(do.Exchange, HIDES, NUMBERS, HIDES, NUMBERS),
    st.just(do.Undo()), st.just(do.Redo()),
    st.builds(do.NameVersion, st.sampled_from("ab")), st.builds(do.GoTo, st.sampled_from("ab")),
)
