"""What a change of allowance or rule would cost: the job is costed again with the change, everything else the same."""

from nest.whatif.changes import AllowanceChange, RuleChange, allowance_changes, rule_changes
from nest.whatif.prices import AllowancePrice, RulePrice, WhatIf, what_if
from nest.whatif.runs import REST_TO_STOCK, Costed, cost_all, plan_cost, quick_uses, used_ground
from nest.whatif.slope import Estimated, common_slope, mean_difference

__all__ = [
    "REST_TO_STOCK", "AllowanceChange", "AllowancePrice", "Costed", "Estimated", "RuleChange", "RulePrice", "WhatIf",
    "allowance_changes", "common_slope", "cost_all", "mean_difference", "plan_cost", "quick_uses", "rule_changes",
    "used_ground", "what_if",
]
