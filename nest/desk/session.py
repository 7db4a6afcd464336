"""One plan at the desk: its history, who listens for changes, and the search that may be running."""

import threading
from collections.abc import Callable
from dataclasses import dataclass
from math import fsum
from pathlib import Path

from geometry.polygon import area
from nest.desk.pressed import pressed_told
from nest.desk.pricing import Pricing
from nest.desk.searching import Search
from nest.desk.versions import beside
from nest.edits import EditProblem, History, Journal, State, Step, changed, findings_on, played
from nest.edits.commands import Found, SearchCommand, SetPlan
from nest.edits.reach import positions
from nest.errors import VampYieldError
from nest.plan import Plan
from nest.verify import Verdict, verify

JOURNAL = "edits.log"
"""Beside plan.json."""


GONE = "gone"
"""The last that listeners hear."""


class Stale(Exception):
    """A step that was made for another state of the plan than the one that holds."""


@dataclass(frozen=True, slots=True)
class Told:
    """What listeners hear: its kind, and its data."""

    kind: str
    data: dict


class Desk:
    """A plan with a hand on it. Threads may share it."""

    def __init__(self, plan: Plan, folder: Path):
        """Open the journal of `plan` in a folder; EditProblem if it is another plan's, or open at another desk."""
        self.first = plan
        self.folder = folder
        self.journal = Journal(folder / JOURNAL, plan)
        self.revision = self.journal.steps
        self.listeners: list[Callable[[Told], None]] = []
        self._lock = threading.RLock()
        self.candidate: State | None = None
        """The best that the search in hand has found so far."""
        self._search: Search | None = None
        self._pricing: Pricing | None = None
        self._verdict: tuple[Plan, Verdict] | None = None
        self._judging = False

    @property
    def history(self) -> History:
        """All states, and the one that holds."""
        return self.journal.history

    @property
    def state(self) -> State:
        """The state that holds."""
        return self.history.state

    def do(self, step: Step, base: int) -> int:
        """Do a step made for revision `base`; returns the new revision once it is on the disk.

        Raises
        ------
        Stale
            If the plan was changed since.
        EditProblem
            If it cannot be done.
        """
        with self._lock:
            if base != self.revision:
                raise Stale
            if isinstance(step, SearchCommand):
                raise EditProblem("placing again is a search; start it as one.")
            history, done = played(self.history, step, _no_search)
            self._keep(history, done)
            return self.revision

    def verdict(self) -> Verdict | None:
        """What the judge says of the whole plan as it is; None while it is judged, and listeners hear when it is."""
        with self._lock:
            plan = self.state.plan
            if self._verdict is not None and self._verdict[0] is plan:
                return self._verdict[1]
            if not self._judging:
                self._judging = True
                threading.Thread(target=self._judge, daemon=True).start()
            return None

    def _judge(self) -> None:
        """Judge the plan, and again as long as it was changed meanwhile."""
        while True:
            with self._lock:
                plan, revision = self.state.plan, self.revision
            try:
                verdict = verify(plan)
            except BaseException:
                with self._lock:
                    self._judging = False
                raise
            with self._lock:
                self._verdict = plan, verdict
                if self.state.plan is plan:
                    self._judging = False
                    break
        self._tell(Told("judged", {"revision": revision}))

    def search(self, command: SearchCommand, base: int) -> None:
        """Begin a search; listeners hear how it goes on, and what it comes to is done as a step.

        Raises
        ------
        Stale
            If the plan was changed since.
        EditProblem
            If another search is running, or this one cannot be made.
        """
        with self._lock:
            if base != self.revision:
                raise Stale
            if self._search is not None and self._search.running:
                raise EditProblem("a search is running; stop it or wait for it.")
            state = self.state
            self.candidate = None
            self._search = Search(
                state, command, self._heard, lambda found: self._better(state, found),
                lambda found: self._found(state, found),
            )

    def stop_search(self) -> None:
        """Have the search end with the best it has found."""
        with self._lock:
            if self._search is not None:
                self._search.stop()

    def let_go(self) -> None:
        """Tell all listeners that there is nothing more to hear."""
        self._tell(Told(GONE, {}))

    def close(self) -> None:
        """End the search without its result, and give the journal back."""
        with self._lock:
            if self._search is not None:
                self._search.kill()
            if self._pricing is not None:
                self._pricing.close()
            self.journal.close()

    def pricing(self) -> Pricing:
        """The estimates of the plan's job; begun where there are none, and listeners hear when they are made."""
        with self._lock:
            old = self._pricing
            if old is None or not old.is_of(self.state.plan) or old.ended:
                if old is not None:
                    old.close()
                old = self._pricing = Pricing(self.state.plan, lambda: self._tell(Told("priced", {})))
            return old

    def positions(self, hide_id: str, number: int, heading_deg: float) -> list:
        """Where a piece may lie at a heading, as `nest.edits.reach.positions`."""
        return positions(self.state, hide_id, number, heading_deg)

    def _heard(self, data: dict) -> None:
        self._tell(Told("search", data))

    def _better(self, state: State, found: Found) -> None:
        """The search has found more than before: kept to be looked at, not yet set."""
        try:
            candidate = changed(state, found)
        except VampYieldError:  # what it comes to in the end is looked at again
            return
        self.candidate = candidate
        self._tell(Told("better", beside(state.plan, candidate.plan)))

    def _found(self, state: State, found: Found | str) -> None:
        """The search has ended: set what it found, unless a hand was quicker."""
        with self._lock:
            self.candidate = None
            if isinstance(found, str):
                self._tell(Told("search", {"ended": True, "said": found}))
                return
            if self.state is not state:
                said = "The plan was changed while it was searched; what was found is not used."
                self._tell(Told("search", {"ended": True, "said": said}))
                return
            before = placed_mm2(state.plan)
            try:
                history, done = played(self.history, found, _no_search)
            except VampYieldError as error:
                self._tell(Told("search", {"ended": True, "said": str(error)}))
                return
            self._keep(history, done)
            gained = placed_mm2(self.state.plan) - before
            anew = isinstance(found, SetPlan)
            self._tell(Told("search", {
                "ended": True, "said": "", "anew": anew, "at": self.history.at, "gained_dm2": round(gained / 1e4, 2),
            }))

    def _keep(self, history: History, step: Step) -> None:
        self.journal.add(history, step)
        self.revision = self.journal.steps
        self._tell(Told("changed", {"revision": self.revision}))

    def _tell(self, told: Told) -> None:
        for listener in [*self.listeners]:
            listener(told)


def placed_mm2(plan: Plan) -> float:
    """Rough area of all that lies on hides, mm²."""
    rough = {piece.piece_id: area(piece.cut_outline) for piece in plan.pieces}
    return fsum(rough[one.piece_id] for layout in plan.layouts for one in layout.placed)


def summary(desk: Desk) -> dict:
    """The plan as the list beside the picture shows it."""
    revision = desk.revision  # read first: a step done meanwhile makes this answer old, never the revision too new
    state, verdict = desk.state, desk.verdict()
    plan = state.plan
    rough = {piece.piece_id: area(piece.cut_outline) for piece in plan.pieces}
    layouts = {layout.hide_id: layout for layout in plan.layouts}
    wrong: dict[str, int] = {}
    for finding in verdict.wrong if verdict else ():
        wrong[finding.where] = wrong.get(finding.where, 0) + 1
    hides = []
    for hide in plan.hides:
        placed = layouts[hide.hide_id].placed if hide.hide_id in layouts else ()
        used = fsum(rough[one.piece_id] for one in placed)
        hides.append({
            "id": hide.hide_id, "leather": hide.leather, "lot": hide.lot, "class": hide.quality,
            "area_dm2": round(hide.outline.area / 1e4, 1), "yield": round(100.0 * used / hide.outline.area, 1),
            "pieces": len(placed), "uncut": 0 if hide.hide_id in plan.begun.cut_hides else sum(
                (hide.hide_id, layouts[hide.hide_id].number(at)) not in state.cut for at in range(len(placed))),
            "wrong": wrong.get(hide.hide_id, 0),
            "state": hide_state(state, hide.hide_id),
        })
    history = desk.history
    return {
        "name": plan.name, "revision": revision, "hides": hides, "judged": verdict is not None,
        "ok": verdict is not None and verdict.ok, "met": verdict is not None and verdict.order_met,
        "short": [finding.sentence for finding in verdict.short] if verdict else [],
        "at": history.at, "undo": history.can_undo, "redo": history.can_redo,
        "elsewhere": [one.sentence for one in verdict.wrong if one.where not in layouts] if verdict else [],
        "vamps": sorted({piece.piece_id for piece in plan.pieces if piece.role == "vamp"}),
    }


def hide_state(state: State, hide_id: str) -> str:
    """Whether a hide is cut, banned, held or open."""
    begun = state.plan.begun
    if hide_id in begun.cut_hides:
        return "cut"
    return "banned" if hide_id in begun.withdrawn else "held" if hide_id in state.held_hides else "open"


def matching(state: State, words: str) -> dict[str, list[int]]:
    """Numbers of the pieces that fit some words, by hide: a size, "no. 4", "pair 7", part of a style or a piece's id.

    All words must fit one piece; a hide whose id fits is there with all of its pieces.
    """
    asked = words.casefold().replace("no. ", "no.").replace("pair ", "pair:").split()
    pieces = {piece.piece_id: piece for piece in state.plan.pieces}
    found: dict[str, list[int]] = {}
    for layout in state.plan.layouts if asked else ():
        for at, one in enumerate(layout.placed):
            piece = pieces[one.piece_id]
            exact = {piece.size.casefold(), f"no.{layout.number(at)}", f"pair:{one.pair}", layout.hide_id.casefold(),
                     str(piece.foot)}
            part = f"{piece.style} {piece.piece_id}".casefold()
            if all(word in exact or (len(word) > 2 and not word.isdecimal() and word in part) for word in asked):
                found.setdefault(layout.hide_id, []).append(layout.number(at))
    return found


def hide_told(desk: Desk, hide_id: str) -> dict:
    """One hide: its state, its pieces by number, what is held, zones and flaws by name, and what the judge says."""
    revision = desk.revision  # first, as in `summary`
    state = desk.state
    hide, layout = state.hide(hide_id), state.layout(hide_id)
    pieces = {piece.piece_id: piece for piece in state.plan.pieces}
    held = {number for _, number in state.parts(hide_id)[0]}
    cut, spoiled = set(state.plan.begun.cut_hides), {one[:2] for one in state.spoiled}
    pressed = pressed_told(state, hide_id)
    return {
        "revision": revision,
        "id": hide_id,
        "state": hide_state(state, hide_id),
        "pieces": [
            {"number": layout.number(at), "piece": one.piece_id, "style": pieces[one.piece_id].style,
             "size": pieces[one.piece_id].size, "foot": str(pieces[one.piece_id].foot), "pair": one.pair,
             "x": one.pose.x, "y": one.pose.y, "heading_deg": one.pose.heading_deg, "held": layout.number(at) in held,
             "cut": hide_id in cut or (hide_id, layout.number(at)) in state.cut,
             "spoiled": (hide_id, layout.number(at)) in spoiled, "pressed": pressed.get(layout.number(at))}
            for at, one in enumerate(layout.placed)
        ],
        "zones": [{"id": zone.zone_id, "class": zone.quality, "stretch_deg": zone.stretch_deg} for zone in hide.zones],
        "flaws": [{"id": flaw.flaw_id, "kind": flaw.kind, "severity": flaw.severity} for flaw in hide.flaws],
        "findings": [{"said": one.sentence, "spots": list(one.spots)} for one in findings_on(state.plan, hide_id)],
    }


def _no_search(state: State, command: SearchCommand) -> Found:
    raise EditProblem("a search is started by itself.")
