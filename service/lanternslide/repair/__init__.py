"""The way back from a ledger that is damaged, lost or put back from a copy: a new one, and what stands recognised."""

from lanternslide.repair.recognition import Recognition
from lanternslide.repair.renewal import Diagnosis, diagnosis_of, renew, renewed_beside

__all__ = ["Diagnosis", "Recognition", "diagnosis_of", "renew", "renewed_beside"]
