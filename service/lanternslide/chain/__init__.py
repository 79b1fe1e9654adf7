"""The chain: the plan of the steps for one original and destination, its rendering, and how good that is."""

from lanternslide.chain.evidence import Evidence, measure
from lanternslide.chain.plan import PLAN_VERSION, Plan, plan_deliveries
from lanternslide.chain.render import Rendering, Way, decode
from lanternslide.chain.size import target_size

__all__ = [
    "PLAN_VERSION",
    "Evidence",
    "Plan",
    "Rendering",
    "Way",
    "decode",
    "measure",
    "plan_deliveries",
    "target_size",
]
