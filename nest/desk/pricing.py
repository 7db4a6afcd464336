"""What a pair costs while a hand moves sliders: worked out in a process of its own; the desk answers meanwhile."""

import json
import multiprocessing
import threading
from collections.abc import Callable

from nest.accounts.asjob import as_job
from nest.asjson import record_from_text
from nest.edits import EditProblem
from nest.errors import VampYieldError
from nest.job.job import Job
from nest.pieces.piece import Part
from nest.plan import Plan
from nest.scenarios import AtOnce, AtOnceCosts, Moved

_SPAWN = multiprocessing.get_context("spawn")

PATIENCE_S = 120.0
"""An answer that takes longer is given up, and the process with it."""


class Pricing:
    """The lines of one plan's job in a process of its own, made once and asked as often as a hand moves."""

    def __init__(self, plan: Plan, ready: Callable[[], None]):
        """Begin; `ready` is called when they are made, or cannot be."""
        self.of = _asked_of(plan)
        self._pipe, theirs = _SPAWN.Pipe()
        self._process = _SPAWN.Process(target=_priced, args=(as_job(plan), theirs), daemon=True)
        self._process.start()
        theirs.close()
        self._lock = threading.Lock()
        self._made: dict | None = None
        self._ready = ready
        threading.Thread(target=self._wait, daemon=True).start()

    def is_of(self, plan: Plan) -> bool:
        """Whether the plan's job is still the one that was asked for."""
        return all(one is other for one, other in zip(self.of, _asked_of(plan), strict=True))

    @property
    def made(self) -> dict | None:
        """What may be moved, and how far; None while it is made. `said` where it cannot be."""
        return self._made

    def ask(self, moved: Moved, curve: tuple[str, str] | None) -> dict:
        """The costs with everything moved so far; EditProblem if there are none."""
        if self._made is None:
            raise EditProblem("the estimates are still being made; wait a few seconds.")
        with self._lock:
            try:
                self._pipe.send((moved, curve))
                if not self._pipe.poll(PATIENCE_S):
                    self.close()
                    raise EOFError
                answer = self._pipe.recv()
            except (EOFError, OSError) as error:
                raise EditProblem("the estimates came to an end; choose Price again.") from error
        if isinstance(answer, str):
            raise EditProblem(answer)
        return answer

    @property
    def ended(self) -> bool:
        """Whether it was made, and cannot be asked any more."""
        return self._made is not None and "said" not in self._made and not self._process.is_alive()

    def close(self) -> None:
        """End the process."""
        self._process.kill()

    def _wait(self) -> None:
        try:
            made = self._pipe.recv()
        except (EOFError, OSError):
            made = {"said": "The estimates ended without a result; choose Price again."}
        self._made = made
        self._ready()


def moved_from(data, where: str) -> Moved:
    """What was moved, from JSON data; InputProblems if it is nothing of the kind."""
    return record_from_text(Moved, json.dumps(data), where, "load the page again")


def _asked_of(plan: Plan) -> tuple:
    """What the estimate asks of a plan; layouts are not among it."""
    return plan.styles, plan.order, plan.leathers, plan.hides, plan.rolls, plan.settings


def _priced(job: Job, pipe) -> None:
    """Runs in the other process: make the lines, then answer until nobody asks any more."""
    try:
        lines = AtOnce(job)
        pipe.send(_movable(lines))
    except VampYieldError as error:
        pipe.send({"said": f"There is no estimate of this plan: {error}"})
        return
    try:
        while True:
            moved, curve = pipe.recv()
            try:
                found = _told(lines.at(moved))
                if curve is not None:
                    found["curve"] = [[one.mm, one.pair, one.half] for one in lines.curve(moved, *curve)]
                pipe.send(found)
            except VampYieldError as error:
                pipe.send(str(error))
    except (EOFError, OSError):
        pass


def _movable(lines: AtOnce) -> dict:
    """Every slider and box, with where it stands."""
    job = lines.job
    styles = [style for style in job.styles if (style.name, Part.TOE) in lines.ranges]
    used = {style.leather for style in styles}
    first = styles[0].rules
    return {
        "currency": job.settings.currency,
        "parts": [
            {"style": style, "part": str(part), "low": low, "high": high,
             "now": next(one for one in styles if one.name == style).allowances.of(part)}
            for (style, part), (low, high) in lines.ranges.items()
        ],
        "stock": [
            *({"name": one.name, "price": float(one.price), "unit": one.price_unit}
              for one in job.leathers if one.name in used),
            *({"name": one.roll_id, "price": float(one.price_per_m), "unit": "m"}
              for one in job.rolls if one.roll_id in {style.roll for style in styles}),
        ],
        "rejects": [{"style": style.name, "now": style.reject_percent} for style in styles],
        "leathers": [[one, [other.name for other in job.leathers]] for one in sorted(used)],
        "rules": {
            "tolerance_deg": first.tolerance_deg, "bias_leave": first.bias_leave,
            "pairs_from_one_hide": first.pairs_from_one_hide, "flaws_under_trim": first.flaws_under_trim,
            "hide_gap_mm": job.settings.hide_gap_mm,
        },
        "costs": _told(lines.at(Moved())),
    }


def _told(found: AtOnceCosts) -> dict:
    return {
        "currency": found.currency, "half": found.half, "notes": list(found.notes),
        "rows": [
            {"style": row.style, "now": float(row.now), "pair": float(row.pair), "saving": row.saving,
             "half": row.half, "takes_now_dm2": row.takes_now_mm2 / 1e4, "takes_dm2": row.takes_mm2 / 1e4,
             "a_year": row.a_year}
            for row in found.rows
        ],
    }

