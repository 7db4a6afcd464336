"""The cutting table as the job describes it: its coordinates, the files it reads, its tool and its speeds."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

OFFSET_ERROR_MM = 0.01
"""A cut line moved out by the tool's radius lies no further beyond it than this, or than thinning allows."""

TRAILS_TO_TURN = 8.0
"""In a lead-in this many times as long as the blade trails, one that came askew by 170 deg is within 0.5 deg of it."""

USUAL_LAYERS = {
    "cut": "CUT", "axis": "MARK_AXIS", "size": "MARK_SIZE", "labels": "REF_LABELS", "net": "REF_NET",
    "material": "REF_MATERIAL", "zones": "REF_ZONES", "flaws": "REF_FLAWS", "points": "REF_POINTS",
    "legend": "REF_LEGEND", "heading": "REF_HEADING", "rough": "REF_ROUGH", "lead": "CUT_LEAD",
    "number": "MARK_NUMBER",
}
"""Name of the layer for each use of a cutting drawing; with numbers, their places in this list."""


def layer_names(chosen: Mapping[str, str], numbers: bool) -> dict[str, str]:
    """Name of the layer for every use: as chosen, else its number, else the usual one."""
    usual = {use: str(i) for i, use in enumerate(USUAL_LAYERS, start=1)} if numbers else USUAL_LAYERS
    return {use: chosen.get(use, name) for use, name in usual.items()}


class Corner(StrEnum):
    """Which point of the material's bounding box lies at the table's origin, seen on the table."""

    DIGITISED = "as digitised"
    """None: coordinates stay those of the hide's own drawing (of the roll)."""
    LOWER_LEFT = "lower left"
    LOWER_RIGHT = "lower right"
    UPPER_LEFT = "upper left"
    UPPER_RIGHT = "upper right"


class FileKind(StrEnum):
    """What is written for each hide and lay beside its DXF drawing."""

    HPGL = "hpgl"
    """Pen moves in HP-GL, 40 units a mm, for older tables."""
    LEAN = "lean"
    """Drawings that hold cuts, lead-ins and marks alone, in a folder of their own."""
    PLOT = "plot"
    """Plots in full size for checking by hand: PDF on tiles of A4, and SVG in one piece."""


class NumberTool(StrEnum):
    """What writes the number of each piece on the material."""

    NONE = "none"
    PEN = "pen"
    """Digits of single strokes."""
    PUNCH = "punch"
    """Dots: for each digit as many as it says, a dot of the inner row counting five."""


class NumberPlace(StrEnum):
    """Where on its piece a number stands."""

    BAND = "band"
    """Within the trim-off band."""
    INSIDE = "inside"
    """In the net area, beside the heel-toe axis."""


@dataclass(frozen=True, slots=True)
class MeasuredPoint:
    """A registration point as measured on the table, and how far the fitted motion misses it, mm."""

    name: str
    x_mm: float
    y_mm: float
    residual_mm: float


@dataclass(frozen=True, slots=True)
class Registration:
    """How one hide was found to lie on the table: its drawing turned about the table's origin, then moved.

    scale : lengths measured ÷ lengths drawn; shown, never applied.
    """

    hide_id: str
    points: tuple[MeasuredPoint, ...]
    turn_deg: float
    x_mm: float
    y_mm: float
    scale: float

    def told(self) -> tuple[str, str]:
        """The registration in two sentences: what was measured, and what was found."""
        places = ", ".join(f"{one.name} ({one.x_mm:.1f}, {one.y_mm:.1f})" for one in self.points)
        off = ", ".join(f"{one.name} {one.residual_mm:.2f}" for one in self.points)
        return (
            f"Registered on the table by points measured there: {places} mm.",
            f"Turned by {self.turn_deg:.3f} deg about the table's origin, then moved by ({self.x_mm:.1f}, "
            f"{self.y_mm:.1f}) mm; scale {self.scale:.5f}, not applied; points are off by {off} mm.",
        )


@dataclass(frozen=True, slots=True)
class CuttingTable:
    """A cutting table. From the hide to the table: mirrored if grain down, then turned, then moved to the origin.

    Tool lengths are mm; speeds mm/s are for the estimate of time only and go into no file.
    """

    origin: Corner = Corner.DIGITISED
    origin_x_mm: float = 0.0
    """Where the origin corner lies in the table's own coordinates; with "as digitised" a shift."""
    origin_y_mm: float = 0.0
    turn_deg: float = 0.0
    """Counter-clockwise turn from the hide's drawing to the table."""
    grain_down: bool = False
    """Hides lie grain down: their drawings are mirrored. Lays never are."""
    unit: str = "mm"
    """Unit of length of DXF files: "mm", "cm" or "in"."""
    layers: tuple[tuple[str, str], ...] = ()
    """Name of the layer for a use, where it is not the usual one: ("cut", "KNIFE")."""
    layer_numbers: bool = False
    """Layers are named 1, 2, 3 ... unless `layers` says otherwise."""
    files: tuple[FileKind, ...] = ()
    tool_radius_mm: float = 0.0
    """Half the width of what the tool takes away: cut lines move out by it. 0 where the table sees to that itself."""
    overcut_mm: float = 0.0
    """How far a cut runs on beyond its own start; HP-GL only, a closed DXF outline cannot hold it."""
    lead_in_mm: float = 0.0
    """Length of the way into a cut from within the trim-off band, where the band has room for it."""
    thin_mm: float = 0.0
    """Cut outlines may lose vertices, moving outwards by no more than this."""
    curve_mm: float = 0.0
    """Cut lines are smooth, of arcs, moving outwards by no more than this; takes the place of thinning."""
    arcs: bool = False
    """Whether the table reads arcs in DXF outlines (bulges); else they are written as chords."""
    least_radius_mm: float | None = None
    """The smallest radius that the tool follows; tighter curves get a warning."""
    knife_offset_mm: float = 0.0
    """How far the tip of a blade on a swivel trails its pivot; HP-GL and lean drawings hold the way of the pivot."""
    corner_loop_mm: float = 0.0
    """How far a knife runs on past a corner to come back along the next edge, where the trim-off band has room."""
    lift_at_corners: bool = False
    """Whether a knife is raised and turned at corners without a loop, not turned in the material."""
    number: NumberTool = NumberTool.NONE
    """What writes the number of each piece."""
    number_place: NumberPlace = NumberPlace.BAND
    number_mm: float = 5.0
    """How high digits are at most."""
    cut_mm_s: float = 250.0
    mark_mm_s: float = 250.0
    travel_mm_s: float = 700.0
    lift_s: float = 0.3
    """To lower and raise the tool once."""
    accel_mm_s2: float | None = None
    """Acceleration, mm/s²; None where it is not known: then speeding up and slowing down are not counted."""
    corner_s: float = 0.0
    """What a corner takes beyond that."""
    marks_first: bool = True
    """Every mark before the first cut; else those of a piece before its own cut, for heads that hold pen and knife."""
    length_mm: float | None = None
    """How far the table reaches along x from its origin; None where it is not known."""
    width_mm: float | None = None
    """The same along y."""
    registered: Registration | None = None
    """The one hide that this table is laid out for, as it lies there: in no job file, set by a registration."""

    @property
    def reach_mm(self) -> float:
        """How far a cut line may lie outside the outline it is made from: radius, and thinning, curves or corners."""
        beyond = self.curve_mm or self.thin_mm
        return self.tool_radius_mm + (max(beyond, OFFSET_ERROR_MM) if self.tool_radius_mm > 0.0 else beyond)

    @property
    def moves_outlines(self) -> bool:
        """Whether cut lines differ from the outlines they are made from."""
        return self.reach_mm > 0.0


PLAIN_TABLE = CuttingTable()
"""A table that takes drawings as they are."""
