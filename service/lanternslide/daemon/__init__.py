"""The main loop: pictures in hand from stage to stage, fair turns, what is planned, delivered and told."""

from lanternslide.daemon.inbox import Inbox
from lanternslide.daemon.service import CLOSING_SECONDS, Service
from lanternslide.daemon.signals import signals_into
from lanternslide.daemon.supervisor import Supervisor

__all__ = [
    "CLOSING_SECONDS",
    "Inbox",
    "Service",
    "Supervisor",
    "signals_into",
]
