"""The chain: the plan of the steps for one original and destination, its rendering, and how good that is."""

from lanternslide.chain.evidence import Evidence, Recompressed, forecast, measure
from lanternslide.chain.findings import findings_about, findings_about_quality
from lanternslide.chain.plan import PLAN_VERSION, Plan, plan_deliveries
from lanternslide.chain.quality import Encoded, Found, find_quality
from lanternslide.chain.render import Rendering, Way, decode
from lanternslide.chain.size import target_size

__all__ = [
    "PLAN_VERSION",
    "Encoded",
    "Evidence",
    "Found",
    "Plan",
    "Recompressed",
    "Rendering",
    "Way",
    "decode",
    "find_quality",
    "findings_about",
    "findings_about_quality",
    "forecast",
    "measure",
    "plan_deliveries",
    "target_size",
]
