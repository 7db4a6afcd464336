"""Plans on cutting tables of several kinds, for tests."""

from dataclasses import replace

from nest.job.cutting_table import Corner, CuttingTable
from nest.plan import Plan

TABLES = {
    "plain": CuttingTable(),
    "turned over": CuttingTable(
        origin=Corner.LOWER_LEFT, turn_deg=90.0, grain_down=True, unit="in", layer_numbers=True
    ),
    "with a tool": CuttingTable(
        origin=Corner.UPPER_RIGHT, turn_deg=33.3, grain_down=True, unit="cm", tool_radius_mm=0.2, thin_mm=0.05,
        lead_in_mm=4.0, overcut_mm=3.0, layers=(("cut", "KNIFE"),),
    ),
}

SMOOTH = {
    "arcs": CuttingTable(
        origin=Corner.LOWER_LEFT, grain_down=True, curve_mm=0.4, arcs=True, lead_in_mm=3.0, least_radius_mm=60.0
    ),
    "arcs in inches": CuttingTable(turn_deg=33.3, unit="in", curve_mm=0.4, arcs=True),
    "chords": CuttingTable(curve_mm=0.4, grain_down=True, turn_deg=90.0),
}
"""Tables whose cut lines are made of arcs; layouts must leave them 0.4 mm."""


def on_table(plan: Plan, table: CuttingTable) -> Plan:
    """The plan for this cutting table."""
    return replace(plan, settings=replace(plan.settings, table=table))
