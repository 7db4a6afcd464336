"""Where the material and the money go: areas, yields, consumption, cost."""

from nest.accounts.areas import AreaAccount, MaterialUse, SizeShare
from nest.accounts.classical import Estimate
from nest.accounts.consumption import Consumption
from nest.accounts.cost import MaterialCost, OrderCost, PairCost, SizeCost
from nest.accounts.trimcost import TrimCost
from nest.accounts.whole import Accounts, account
from nest.accounts.yields import Yields, yields

__all__ = [
    "Accounts", "AreaAccount", "Consumption", "Estimate", "MaterialCost", "MaterialUse", "OrderCost", "PairCost",
    "SizeCost", "SizeShare", "TrimCost", "Yields", "account", "yields",
]
