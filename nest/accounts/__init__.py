"""Where the material and the money go: areas, yields, consumption, cost."""

from nest.accounts.account import Accounts, account
from nest.accounts.areas import AreaAccount, MaterialUse, SizeShare
from nest.accounts.classical import Estimate
from nest.accounts.consumption import Consumption
from nest.accounts.sheet import CostSheet, MaterialCost, SheetRow
from nest.accounts.trimcost import TrimCost
from nest.accounts.yields import Yields, yields

__all__ = [
    "Accounts", "AreaAccount", "Consumption", "CostSheet", "Estimate", "MaterialCost", "MaterialUse", "SheetRow",
    "SizeShare", "TrimCost", "Yields", "account", "yields",
]
