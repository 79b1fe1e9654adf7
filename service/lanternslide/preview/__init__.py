"""What would be done, or is to be looked at, before anything is: trace, check, ring-around, a first config."""

from lanternslide.preview.check import Finding, Verdict, look_around
from lanternslide.preview.first_folders import begin, refuse_present
from lanternslide.preview.predictions import Asked, Foreseen, Intended, Prediction
from lanternslide.preview.rehearsal import rehearse
from lanternslide.preview.ring_around import config_line, ring_around
from lanternslide.preview.tracing import Tracer

__all__ = [
    "Asked",
    "Finding",
    "Foreseen",
    "Intended",
    "Prediction",
    "Tracer",
    "Verdict",
    "begin",
    "config_line",
    "look_around",
    "refuse_present",
    "rehearse",
    "ring_around",
]
