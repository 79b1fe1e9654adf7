"""The chain: the plan of the steps for one original and destination, and its rendering."""

from lanternslide.chain.plan import PLAN_VERSION, Plan, plan_deliveries
from lanternslide.chain.render import Rendering, render
from lanternslide.chain.size import target_size

__all__ = ["PLAN_VERSION", "Plan", "Rendering", "plan_deliveries", "render", "target_size"]
