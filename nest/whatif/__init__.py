"""What a change of allowance or rule would cost: the job is costed again with the change, everything else the same."""

from nest.whatif.changes import AllowanceChange, RuleChange, allowance_changes, rule_changes
from nest.whatif.prices import AllowancePrice, RulePrice, WhatIf, what_if
from nest.whatif.runs import Costed, cost_all, plan_cost, quick_uses
from nest.whatif.slope import Estimated, common_slope, mean_difference

__all__ = [
    "AllowanceChange", "AllowancePrice", "Costed", "Estimated", "RuleChange", "RulePrice", "WhatIf",
    "allowance_changes", "common_slope", "cost_all", "mean_difference", "plan_cost", "quick_uses", "rule_changes",
    "what_if",
]
