"""Charts of the costing workbook: what a good pair is made up of, and what it costs against the allowances.

They are drawn by the spreadsheet from cells, so that they move with them.
"""

from collections.abc import Sequence

from nest.report.cells import Page
from nest.report.palette import NET, PARTS

_MARKS = ("circle", "square", "triangle", "diamond", "x")
"""Marks tell styles apart, colours parts."""


def structure_chart(page: Page, first: int, last: int, corner: str, currency: str) -> None:
    """Bars of the lines of a good pair, names in column A and amounts in column B of rows first to last."""
    from openpyxl.chart import BarChart, Reference

    chart = BarChart()
    chart.type, chart.style, chart.legend, chart.gapWidth = "bar", 10, None, 60
    chart.title = f"A good pair, {currency}"
    chart.add_data(Reference(page.cells, min_col=2, min_row=first, max_row=last))
    chart.set_categories(Reference(page.cells, min_col=1, min_row=first, max_row=last))
    chart.series[0].invertIfNegative = False
    chart.x_axis.tickLblPos = "low"
    chart.series[0].graphicalProperties.solidFill = NET.lstrip("#")
    chart.x_axis.scaling.orientation = "maxMin"
    _plain_axes(chart)
    chart.width, chart.height = 15.0, 8.0
    page.add(chart, corner)


def allowance_chart(
    page: Page, heading: int, rows: Sequence[int], columns: tuple[int, int], corner: str, currency: str
) -> None:
    """Lines of a good pair against millimetres: millimetres in row `heading`, a line for each of `rows`."""
    from openpyxl.chart import Reference, ScatterChart, Series

    chart = ScatterChart()
    chart.style, chart.scatterStyle = 13, "lineMarker"
    chart.title = "A good pair against the change of an allowance"
    chart.x_axis.title, chart.y_axis.title = "mm more than now", currency
    across = Reference(page.cells, min_col=columns[0], max_col=columns[1], min_row=heading)
    styles: dict[str, int] = {}
    for row in rows:
        up = Reference(page.cells, min_col=columns[0], max_col=columns[1], min_row=row)
        series = Series(up, across, title=f"{page.cells.cell(row, 1).value}, {page.cells.cell(row, 2).value}")
        colour = PARTS[page.cells.cell(row, 2).value].lstrip("#")
        series.graphicalProperties.line.solidFill = colour
        series.marker.symbol = _MARKS[styles.setdefault(page.cells.cell(row, 1).value, len(styles)) % len(_MARKS)]
        series.marker.graphicalProperties.solidFill = colour
        series.smooth = False
        chart.series.append(series)
    _plain_axes(chart)
    steps = [page.cells.cell(heading, column).value for column in range(columns[0], columns[1] + 1)]
    chart.x_axis.scaling.min, chart.x_axis.scaling.max = steps[0], steps[-1]
    chart.x_axis.majorUnit = 1.0
    chart.y_axis.crosses = "min"
    chart.y_axis.number_format = "0.00"
    chart.width, chart.height = 22.0, 10.0
    page.add(chart, corner)


def _plain_axes(chart) -> None:
    """Axes that are drawn: openpyxl leaves them out unless told."""
    chart.x_axis.delete = chart.y_axis.delete = False
