"""Commands of every kind that needs no search, for plans as `edited_plans.two_hides`, as hypothesis draws them."""

from hypothesis import strategies as st

from nest.edits.commands import (
    AllowHide,
    BanHide,
    CutLay,
    CutOff,
    DropFlaw,
    Exchange,
    Free,
    GoTo,
    Hold,
    MarkFlaw,
    MarkZone,
    MovePiece,
    NameVersion,
    NotCut,
    PutIn,
    Redo,
    SetZone,
    Sound,
    SplitZone,
    Spoil,
    StretchUnknown,
    TakeOut,
    TrimEdge,
    Undo,
)

HIDES = st.sampled_from(["H1", "H2", "H3"])
NUMBERS = st.integers(1, 5)
CUT = st.lists(NUMBERS, max_size=2).map(tuple)
X, Y = st.integers(0, 1000).map(float), st.integers(0, 500).map(float)
TURN = st.sampled_from([0.0, 180.0, 45.0, 3.25])
LOOP = st.tuples(X, Y, st.integers(5, 300), st.integers(5, 300)).map(
    lambda at: ((at[0], at[1]), (at[0] + at[2], at[1]), (at[0] + at[2], at[1] + at[3]), (at[0], at[1] + at[3])))
ANY = st.one_of(
    st.builds(MarkFlaw, HIDES, st.just("scar"), st.integers(0, 3), st.tuples(st.tuples(X, Y)), st.just(False),
              st.just(4.0), st.booleans(), st.booleans()),
    st.builds(DropFlaw, HIDES, st.sampled_from(["F01", "F02"])),
    st.builds(MarkZone, HIDES, st.integers(1, 3), TURN, LOOP),
    st.builds(SetZone, HIDES, st.sampled_from(["butt", "zone"]), st.integers(1, 3), st.none() | TURN),
    st.builds(StretchUnknown, HIDES, st.sampled_from(["", "butt"])), st.builds(CutOff, HIDES, CUT),
    st.builds(NotCut, HIDES, CUT), st.builds(Spoil, HIDES, CUT), st.builds(Sound, HIDES, CUT),
    st.builds(CutLay, st.sampled_from(["L1", "L2"]), st.none() | st.integers(0, 2)),
    st.builds(SplitZone, HIDES, st.just("butt"), st.tuples(st.tuples(X, Y), st.tuples(X, Y)), st.integers(1, 3), TURN),
    st.builds(TrimEdge, HIDES, LOOP), st.builds(Hold, HIDES, st.lists(NUMBERS, max_size=2).map(tuple)),
    st.builds(Free, HIDES, st.just(())), st.builds(BanHide, HIDES), st.builds(AllowHide, HIDES),
    st.builds(MovePiece, HIDES, NUMBERS, X, Y, TURN), st.builds(TakeOut, HIDES, NUMBERS),
    st.builds(PutIn, HIDES, st.just("V38"), X, Y, TURN), st.builds(Exchange, HIDES, NUMBERS, HIDES, NUMBERS),
    st.just(Undo()), st.just(Redo()),
    st.builds(NameVersion, st.sampled_from("ab")), st.builds(GoTo, st.sampled_from("ab")),
)
