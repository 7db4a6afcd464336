"""What can be done to a plan, as data: each command is a frozen record, read from JSON and written to it.

Points are (x, y) in mm on the hide, grain side up; headings in degrees, the angle of the toe; a piece goes by its hide
and the number on its label.
"""

import json
from dataclasses import dataclass

from nest.asjson import record_from_text, record_text
from nest.errors import VampYieldError
from nest.limits import MOST_PLAN_VALUES, MOST_ROWS
from nest.plainfile import BadJson, parsed_json
from nest.plan import HideLayout, Plan
from nest.scenarios.moved import Moved

Points = tuple[tuple[float, float], ...]


class EditProblem(VampYieldError, ValueError):
    """A change that cannot be made; the text is one sentence with the remedy."""


@dataclass(frozen=True, slots=True)
class MarkFlaw:
    """A flaw found on a hide: a point or a stroke with a width, or a loop around it.

    points : one for a point, two and more for a stroke; the corners of a loop where `loop` is set.
    """

    hide: str
    kind: str
    severity: int
    points: Points
    loop: bool = False
    width_mm: float = 0.0
    tears: bool = False
    coverable: bool = False


@dataclass(frozen=True, slots=True)
class DropFlaw:
    """A flaw that is none: taken out of the drawing of the hide."""

    hide: str
    flaw: str


@dataclass(frozen=True, slots=True)
class MarkZone:
    """Ground within a loop, whatever zones it was in, as a zone of its own with this class and stretch.

    stretch_deg : None where it is unknown, here as below.
    """

    hide: str
    quality: int
    stretch_deg: float | None
    points: Points


@dataclass(frozen=True, slots=True)
class SplitZone:
    """A zone cut in two along a line; the part to the left of the line gets this class and stretch."""

    hide: str
    zone: str
    points: Points
    quality: int
    stretch_deg: float | None


@dataclass(frozen=True, slots=True)
class SetZone:
    """Another class or stretch for a whole zone."""

    hide: str
    zone: str
    quality: int
    stretch_deg: float | None


@dataclass(frozen=True, slots=True)
class StretchUnknown:
    """A zone, or the whole hide where none is named, whose stretch nobody knows: nothing but bias may lie there."""

    hide: str
    zone: str = ""


@dataclass(frozen=True, slots=True)
class TrimEdge:
    """What lies within a loop is no longer part of the hide; the largest piece that stays is the hide."""

    hide: str
    points: Points


@dataclass(frozen=True, slots=True)
class Hold:
    """Pieces that stay as they lie, or the whole hide where no numbers are given."""

    hide: str
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Free:
    """Pieces, or the whole hide, that need not stay any more."""

    hide: str
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class BanHide:
    """A hide that is not to be used: what lies on it is taken off, but for what is cut of it."""

    hide: str


@dataclass(frozen=True, slots=True)
class AllowHide:
    """A banned hide that may be used again."""

    hide: str


@dataclass(frozen=True, slots=True)
class CutOff:
    """Pieces that are cut, or the whole hide where no numbers are given, with its area as measured then, mm²."""

    hide: str
    numbers: tuple[int, ...] = ()
    measured_mm2: float | None = None


@dataclass(frozen=True, slots=True)
class NotCut:
    """Pieces, or the whole hide, ticked off by mistake."""

    hide: str
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class CutLay:
    """A lay of reinforcements that is cut, or the first of its plies; 0 takes that back."""

    lay: str
    plies: int | None = None


@dataclass(frozen=True, slots=True)
class Spoil:
    """Cut pieces that were lost, to be cut again; `backed`: their reinforcement with them."""

    hide: str
    numbers: tuple[int, ...]
    backed: bool = True


@dataclass(frozen=True, slots=True)
class Sound:
    """Pieces that are not spoiled after all."""

    hide: str
    numbers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Pressed:
    """What the press made of cut pieces: good, or why not (then they are spoiled); "" where that is not known.

    Of one piece also the trim left by part, mm, where it was measured. day : of pressing, ISO 8601, or "".
    """

    hide: str
    numbers: tuple[int, ...]
    outcome: str = ""
    toe_mm: float | None = None
    side_mm: float | None = None
    back_mm: float | None = None
    day: str = ""
    backed: bool = True


@dataclass(frozen=True, slots=True)
class MovePiece:
    """A piece laid elsewhere on its hide, or turned."""

    hide: str
    number: int
    x: float
    y: float
    heading_deg: float


@dataclass(frozen=True, slots=True)
class TakeOut:
    """A piece taken off its hide."""

    hide: str
    number: int


@dataclass(frozen=True, slots=True)
class PutIn:
    """A piece of the order put on a hide; it gets the next free number."""

    hide: str
    piece: str
    x: float
    y: float
    heading_deg: float


@dataclass(frozen=True, slots=True)
class Exchange:
    """Two pieces of one style change places, each at the other's pose: sizes exchanged."""

    hide: str
    number: int
    other_hide: str
    other_number: int


@dataclass(frozen=True, slots=True)
class PlaceAgain:
    """Hides of one leather searched anew, all that is not held; none named: every hide not cut and not held.

    What has no room there any more goes where there is room on hides that are opened. Limited by passes or seconds.
    """

    hides: tuple[str, ...] = ()
    seconds: float | None = None
    passes: int | None = None
    seed: int = 1


@dataclass(frozen=True, slots=True)
class SetLayouts:
    """Layouts as a search left them: what `PlaceAgain` came to, so that it need not be searched for twice."""

    layouts: tuple[HideLayout, ...]


@dataclass(frozen=True, slots=True)
class PlaceWith:
    """The whole order placed anew with other allowances, prices, rejects, rules or leather."""

    moved: Moved
    seconds: float | None = None
    passes: int | None = None
    seed: int = 1


@dataclass(frozen=True, slots=True)
class SetPlan:
    """Another plan of the order: what `PlaceWith` came to."""

    plan: Plan


@dataclass(frozen=True, slots=True)
class Undo:
    """One state back."""


@dataclass(frozen=True, slots=True)
class Redo:
    """One state on again."""


@dataclass(frozen=True, slots=True)
class NameVersion:
    """The state that holds under a name, to be gone back to."""

    name: str


@dataclass(frozen=True, slots=True)
class GoTo:
    """The state of this name, or of this number from 0, holds again; those behind it can be redone."""

    name: str = ""
    number: int | None = None


Command = (
    MarkFlaw | DropFlaw | MarkZone | SplitZone | SetZone | StretchUnknown | TrimEdge | Hold | Free | BanHide | AllowHide
    | CutOff | NotCut | CutLay | Spoil | Sound | Pressed | MovePiece | TakeOut | PutIn | Exchange | PlaceAgain
    | SetLayouts | PlaceWith | SetPlan
)
SearchCommand = PlaceAgain | PlaceWith
"""What is searched for; it comes to a `Found`, which is kept in its place."""
Found = SetLayouts | SetPlan
Step = Command | Undo | Redo | NameVersion | GoTo

COMMANDS: dict[str, type] = {
    "mark_flaw": MarkFlaw, "drop_flaw": DropFlaw, "mark_zone": MarkZone, "split_zone": SplitZone, "set_zone": SetZone,
    "stretch_unknown": StretchUnknown, "trim_edge": TrimEdge, "hold": Hold, "free": Free, "ban_hide": BanHide,
    "allow_hide": AllowHide,
    "cut": CutOff, "not_cut": NotCut, "cut_lay": CutLay, "spoiled": Spoil, "sound": Sound, "pressed": Pressed,
    "move": MovePiece, "take_out": TakeOut, "put_in": PutIn, "exchange": Exchange, "place_again": PlaceAgain,
    "set_layouts": SetLayouts, "place_with": PlaceWith, "set_plan": SetPlan,
}
"""Every command by the word that names it."""
STEPS: dict[str, type] = {"undo": Undo, "redo": Redo, "name": NameVersion, "go_to": GoTo}
"""What is done to the history of a plan, by word."""

_REMEDY = "correct the command: its fields stand in vampyield guide edit"

_KNOWN = COMMANDS | STEPS
_WORDS = {kind: word for word, kind in _KNOWN.items()}


def command_data(command: Step) -> dict:
    """The command as JSON data: its word, and its fields."""
    return {"do": _WORDS[type(command)]} | json.loads(record_text(type(command), command))


def command_of(data, where: str) -> Step:
    """The command in JSON data.

    Raises
    ------
    EditProblem
        If it is none.
    InputProblems
        If fields of it are missing, unknown or of another kind: all of them.
    """
    word = data.get("do") if isinstance(data, dict) else None
    if not isinstance(word, str) or word not in _KNOWN:
        raise EditProblem(f"{where}: expected a command with \"do\", one of {', '.join(_KNOWN)}; correct it.")
    fields = {key: value for key, value in data.items() if key != "do"}
    return record_from_text(_KNOWN[word], json.dumps(fields), f"{where}, {word}", _REMEDY)


def commands_from_text(text: str, where: str) -> tuple[Step, ...]:
    """The commands in a JSON text, a list of objects; errors as `command_of`."""
    try:
        data = parsed_json(text, MOST_PLAN_VALUES)
    except BadJson as error:
        raise EditProblem(f"{where}: expected a list of commands, found {error}; write it again.") from error
    if not isinstance(data, list) or len(data) > MOST_ROWS:
        raise EditProblem(f"{where}: expected a list of at most {MOST_ROWS} commands; write it as [{{...}}, {{...}}].")
    return tuple(command_of(one, f"{where}, command {number}") for number, one in enumerate(data, start=1))
