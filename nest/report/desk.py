"""The page of the desk and its pictures: drawn by the templates of the page of a run."""

from nest.plan import Plan
from nest.report import palette
from nest.report.drawings import hide_data
from nest.report.pointed import homes_of
from nest.report.summary import page_environment, source_of


def desk_page(plan: Plan) -> str:
    """The desk's page, without the plan, which its script asks for."""
    return page_environment().get_template("desk.html.j2").render(plan=plan)


def desk_style() -> str:
    """The styles of the page and its drawings, for the desk to build on."""
    environment = page_environment()
    colours = environment.get_template("colours.css.j2").render(palette=palette)
    return colours + "".join(source_of(environment, name) for name in ("page.css", "drawing.css"))


def hide_picture(plan: Plan, hide_id: str) -> str:
    """One hide as SVG, whether anything lies on it or not.

    Raises
    ------
    StopIteration
        If the plan has no such hide.
    """
    shown = hide_data(plan, hide_id)
    return page_environment().get_template("desk_hide.svg.j2").render(
        shown=shown, fills={one["size"]: one["fill"] for one in shown["sizes"]}, homes=homes_of(shown["drawings"]),
    )
