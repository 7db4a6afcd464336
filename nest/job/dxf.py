"""DXF drawings read as paths, points and texts in mm.

Read are LINE, ARC, CIRCLE, ELLIPSE, LWPOLYLINE and POLYLINE with bulges, SPLINE, POINT, TEXT, MTEXT, and all of
these within block inserts (an entity on layer 0 of a block takes the insert's layer, as the DXF reference says).
Paper space is not read; a warning says what it holds. A damaged file is recovered where possible, with a warning.
"""

import logging
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace

import ezdxf
import ezdxf.recover
import numpy as np
from ezdxf.entities import DXFGraphic, Insert

from geometry.precision import CHORD_ERROR_MM, JOIN_GAP_MM
from nest.job.chains import join_paths
from nest.job.drawing import Drawing, Label, Mark, Path, Prevailing
from nest.job.dxf_beside import base_size, say_far, say_paper_space
from nest.job.dxf_entities import PATH_TYPES, EntityFault, chords_of, flat, is_curved
from nest.job.files import Source, checked_source, read_bytes
from nest.job.findings import Findings, listed, meant
from nest.limits import DEEPEST_BLOCK, MOST_ENTITIES, MOST_OUTLINE_VERTICES, MOST_STORED_ENTITIES, MOST_VERTICES
from nest.text import hidden_in
from nest.units import MM_PER_LENGTH_UNIT

UNIT_BY_CODE = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 14: "dm"}
"""$INSUNITS codes read (public DXF reference); 0 or none means the drawing states no unit."""

MOST_GAPS_SAID = 20
"""When more outlines of a layer are open, their gaps are counted, not listed."""

MOST_BLOCKS_SAID = 8
"""Of more blocks than this only some are named in a message."""

_UNIT_TEXT = re.compile(r"units?\s*[:=]\s*(metric|english)\b.*", re.I)
_UNIT_OF_WORD = {"metric": "mm", "english": "in"}

_TEXT_TYPES = ("TEXT", "MTEXT", "ATTRIB")

_ESCAPE = re.compile(r"\\U\+([0-9A-Fa-f]{4})")
"""How DXF files before R2007 write a character that their code page lacks (public DXF reference)."""

_MODEL_SPACE = "Model"
"""Name of the layout that holds what is drawn in full size."""

_BINARY = b"AutoCAD Binary DXF"
_LEAST_BYTES_STORED = 40
"""No entity with a layer and a place takes less in a binary DXF file."""


class _TooMuch(Exception):
    """A limit was passed; the text says which."""


def refuse_open(drawing: Drawing, paths: Sequence[Path], findings: Findings) -> None:
    """Note the gaps between the open paths of one layer, which should be closed outlines: each with its place."""
    open_paths = [path for path in paths if not path.closed]
    remedy = f"close it in the drawing (gaps up to {JOIN_GAP_MM:g} mm are closed here)"
    if len(open_paths) > MOST_GAPS_SAID:
        layer = open_paths[0].layer
        findings.refuse(drawing.layer(layer), "closed outlines", f"{len(open_paths)} lines that do not meet", remedy)
        return
    ends = [(path, end) for path in open_paths for end in (path.points[0], path.points[-1])]
    distances = {(i, j): float(np.hypot(*(ends[i][1] - ends[j][1]))) for i in range(len(ends)) for j in range(i)}
    left = set(range(len(ends)))
    for i, j in sorted(distances, key=distances.__getitem__):
        if not {i, j} <= left:
            continue
        left -= {i, j}
        (path, (ax, ay)), (_, (bx, by)) = ends[j], ends[i]
        found = f"a gap of {distances[i, j]:.2f} mm from ({ax:.1f}, {ay:.1f}) to ({bx:.1f}, {by:.1f})"
        findings.refuse(drawing.where(path.entity, path.layer), "a closed outline", found, remedy)


def read_drawing(
    source: Source, unit: str | None, findings: Findings, layers: Iterable[str] | None = None, block: str | None = None
) -> Drawing | None:
    """Read the drawing; None, and problems, if anything in it cannot be used.

    Parameters
    ----------
    unit
        Unit of the drawing if it states none itself.
    layers
        Only these are read; all of them if None.
    block
        Name of the block to read in place of model space, in any case of letters.
    """
    before = findings.refused
    if checked_source(source, source.name, findings) is None or not _bearable(source, findings):
        return None
    with quiet():
        document = _opened(source, findings)
        scale = None if document is None else _mm_per_unit(document, unit, source.name, findings)
        if document is None or scale is None:
            return None
        wanted = None if layers is None else {layer.casefold() for layer in layers}
        space = _space(document, block, source.name, findings)
        if space is None:
            return None
        try:
            found = _collected(space, scale, wanted, source.name, findings)
        except (ezdxf.DXFError, RecursionError, ArithmeticError, LookupError, ValueError):
            findings.refuse(source.name, "a sound drawing", "one that is damaged", "save it again as DXF")
            return None
        except _TooMuch as error:
            findings.refuse(source.name, f"a drawing of at most {error}", "more", "save only what the job needs in it")
            return None
        say_paper_space(document, source.name, findings)
        found = replace(found, base_size=base_size(document))
    drawing = _joined(found, findings)
    return drawing if findings.refused == before else None


def _bearable(source: Source, findings: Findings) -> bool:
    """Whether the file stores no more entities than can be loaded; counted before it is loaded."""
    data = read_bytes(source, findings)
    if data is None:
        return False
    stored = stored_entities(data)
    if stored > MOST_STORED_ENTITIES:
        most = f"a drawing of at most {MOST_STORED_ENTITIES} entities"
        findings.refuse(source.name, most, "more", "save only what the job needs in it")
    return stored <= MOST_STORED_ENTITIES


def stored_entities(data: bytes) -> int:
    """How many entities a DXF file stores, used or not; at least that, and quickly told."""
    if data.startswith(_BINARY):
        return len(data) // _LEAST_BYTES_STORED
    # Lines of a DXF file are group codes and values in turn; the code 0 begins an entity (public DXF reference).
    return sum(code.strip() == b"0" for code in data.split(b"\n")[::2])


@contextmanager
def quiet() -> Iterator[None]:
    """Keep ezdxf's log to itself: what matters of it is said in our words, and it may hold anything of a file."""
    logger = logging.getLogger("ezdxf")
    level = logger.level
    logger.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        logger.setLevel(level)


def _opened(source: Source, findings: Findings):
    """The DXF document, recovered if it is damaged; None, and a problem, if that fails."""
    # A damaged file may fail anywhere within the reader, so any exception means: damaged.
    try:
        document = ezdxf.readfile(source.path)
        if _MODEL_SPACE in document.layout_names():
            return document
    except Exception:
        pass
    try:
        document, auditor = ezdxf.recover.readfile(source.path)
        # The recovery makes an empty drawing of a file that is none.
        sound = _MODEL_SPACE in document.layout_names() and len(document.modelspace()) > 0
    except Exception:
        sound = False
    if not sound:
        findings.refuse(source.name, "a DXF drawing", "none, or one damaged beyond repair", "save it again as DXF")
        return None
    mended = len(auditor.fixes) + len(auditor.errors)
    findings.warn(source.name, f"the drawing was damaged and was recovered ({mended} faults mended); check it")
    return document


def _mm_per_unit(document, unit: str | None, name: str, findings: Findings) -> float | None:
    """Scale of the drawing, from its own header before the job's word, unless that prevails."""
    code = document.header.get("$INSUNITS", 0)
    if isinstance(unit, Prevailing):
        stated = UNIT_BY_CODE.get(code) or _unit_in_texts(document)
        if stated not in (None, unit):
            findings.warn(name, f"the drawing says its unit is {stated}; it is read in {unit}, as the job wants")
        return MM_PER_LENGTH_UNIT[unit]
    if code in UNIT_BY_CODE:
        return MM_PER_LENGTH_UNIT[UNIT_BY_CODE[code]]
    if code != 0:
        known = listed(f"{c} ({u})" for c, u in UNIT_BY_CODE.items())
        remedy = "save the drawing in millimetres, or give unit and unit_prevails in the job file"
        findings.refuse(f"{name}, $INSUNITS", known, str(code), remedy)
        return None
    if (stated := _unit_in_texts(document)) is not None:
        return MM_PER_LENGTH_UNIT[stated]
    if unit is None:
        findings.refuse(name, "a unit of length", "a drawing that states none", 'add unit = "mm" to the job file')
        return None
    return MM_PER_LENGTH_UNIT[unit]


def _unit_in_texts(document) -> str | None:
    """Unit that a pattern file states in a text, "UNITS: METRIC" or "UNITS: ENGLISH" (ASTM D6673, from memory)."""
    for space in (document.modelspace(), *document.blocks):
        for text in space.query("TEXT"):
            if match := _UNIT_TEXT.fullmatch(text.dxf.get("text", "").strip()):
                return _UNIT_OF_WORD[match[1].casefold()]
    return None


def _space(document, block: str | None, name: str, findings: Findings):
    """Model space, or the block of this name; None, and a problem, if there is none."""
    if block is None:
        return document.modelspace()
    named = {one.name.casefold(): one for one in document.blocks if not one.name.startswith("*")}
    if block.casefold() in named:
        return named[block.casefold()]
    shown = [one.name for one in named.values()]
    found = f"none; there {'is' if len(shown) == 1 else 'are'} {listed(shown[:MOST_BLOCKS_SAID])}" if shown else "none"
    findings.refuse(name, f"the block {block!r}", found, meant(block, shown[:MOST_BLOCKS_SAID]))
    return None


def _collected(space, scale: float, wanted: set[str] | None, name: str, findings: Findings) -> Drawing:
    """Everything on the wanted layers, in mm, paths not yet joined."""
    paths, marks, labels = [], [], []
    passed_over: Counter[tuple[str, str]] = Counter()
    seen: dict[str, Counter[str]] = {}
    flattened: Counter[str] = Counter()
    vertices = 0
    for entity, layer, handle in _exploded(space, name, findings):
        kind = entity.dxftype()
        seen.setdefault(layer, Counter())[kind] += 1
        if wanted is not None and layer.casefold() not in wanted:
            continue
        try:
            if kind in PATH_TYPES:
                points, closed = chords_of(entity, CHORD_ERROR_MM / scale)
                paths.append(Path(layer, flat(points * scale), closed, handle))
                flattened[kind] += is_curved(entity)
                vertices += len(points)
                if len(points) > MOST_OUTLINE_VERTICES:
                    raise _TooMuch(f"{MOST_OUTLINE_VERTICES} vertices in one outline")
                if vertices > MOST_VERTICES:
                    raise _TooMuch(f"{MOST_VERTICES} vertices")
            elif kind == "POINT":
                marks.append(Mark(layer, flat(np.array((tuple(entity.dxf.location),)))[0] * scale, handle))
            elif kind in _TEXT_TYPES:
                text, at = _text(entity)
                if hidden := hidden_in(text):
                    raise EntityFault("plain text", hidden)
                labels.append(Label(layer, flat(np.array((at,)))[0] * scale, text, handle))
            else:
                passed_over[kind, layer] += 1
        except EntityFault as error:
            findings.refuse(f"{name}, entity {handle} on layer {layer}", error.expected, error.found, "draw it again")
    if curves := [f"{count} {kind}" for kind, count in flattened.items() if count]:
        findings.note(name, f"{', '.join(curves)} made into chords within {CHORD_ERROR_MM:g} mm")
    for (kind, layer), count in passed_over.items():
        reason = "; a hatch is no outline: draw its edge as a closed line" if kind == "HATCH" else ""
        findings.warn(f"{name}, layer {layer}", f"{count} {kind} not read{reason}")
    say_far(name, paths, findings)
    layers = tuple(f"{layer} ({', '.join(f'{n} {kind}' for kind, n in own.items())})" for layer, own in seen.items())
    return Drawing(name, tuple(paths), tuple(marks), tuple(labels), layers)


def _exploded(space, name: str, findings: Findings) -> Iterator[tuple[DXFGraphic, str, str]]:
    """Every entity of a space with its layer and handle, those within block inserts in their place."""
    left = MOST_ENTITIES

    def opened(entities: Iterable[DXFGraphic], above: tuple[str, str] | None, depth: int):
        """Walk entities; `above` is layer and handle of the insert they come from."""
        nonlocal left
        for entity in entities:
            left -= 1
            if left < 0:
                raise _TooMuch(f"{MOST_ENTITIES} entities")
            # An entity of a type that no program knows has no layer.
            layer = entity.dxf.get("layer", "0") if entity.dxf.is_supported("layer") else ""
            handle = str(entity.dxf.handle or "?")
            if above is not None:
                layer, handle = above[0] if layer == "0" else layer, above[1]
            if not isinstance(entity, Insert):
                yield entity, layer, handle
                continue
            where = f"{name}, entity {handle} on layer {layer}"
            if depth == DEEPEST_BLOCK:
                raise _TooMuch(f"{DEEPEST_BLOCK} blocks within each other")
            if entity.block() is None:
                findings.refuse(
                    where, f"the block {entity.dxf.name!r}", "no such block", "save the drawing with its blocks"
                )
                continue
            if entity.mcount > left:
                raise _TooMuch(f"{MOST_ENTITIES} entities")
            for one in entity.multi_insert() if entity.mcount > 1 else (entity,):
                yield from opened(_content(one, where, findings), (layer, handle), depth + 1)

    return opened(space, None, 0)


def _content(insert: Insert, where: str, findings: Findings) -> Iterator[DXFGraphic]:
    """Entities of an inserted block, moved to their place, and the insert's own attributes."""

    def passed_over(entity, reason: str) -> None:
        findings.warn(where, f"a {entity.dxftype()} of its block was not read")

    yield from insert.virtual_entities(skipped_entity_callback=passed_over)
    yield from insert.attribs


def _text(entity) -> tuple[str, tuple[float, float, float]]:
    """Plain text of a TEXT or MTEXT on one line, and where it is inserted."""
    text = _ESCAPE.sub(lambda match: chr(int(match[1], 16)), " ".join(entity.plain_text().split()))
    if entity.dxftype() == "MTEXT":
        return text, tuple(entity.dxf.insert)
    _, at, _ = entity.get_placement()
    return text, tuple(entity.ocs().to_wcs(at))


def _joined(found: Drawing, findings: Findings) -> Drawing:
    """The drawing with the paths of each layer joined; warnings say what was mended."""
    by_layer: dict[str, list[Path]] = {}
    for path in found.paths:
        by_layer.setdefault(path.layer, []).append(path)
    paths: list[Path] = []
    for layer, members in by_layer.items():
        where = found.layer(layer)
        try:
            joined = join_paths(members)
        except ValueError as error:
            findings.refuse(where, "outlines whose lines follow each other", str(error), "draw each outline once")
            continue
        paths += joined.paths
        if joined.joins:
            gaps = f"{joined.joins} gap{'s' if joined.joins > 1 else ''}"
            findings.warn(where, f"{gaps} of up to {joined.widest_gap_mm:.2f} mm closed")
        if joined.doubled:
            findings.warn(where, f"{joined.doubled} doubled line{'s' if joined.doubled > 1 else ''} dropped")
        if joined.empty:
            findings.warn(where, f"{joined.empty} line{'s' if joined.empty > 1 else ''} of no length dropped")
    return replace(found, paths=tuple(paths))
