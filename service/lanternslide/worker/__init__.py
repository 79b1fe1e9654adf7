"""What runs in a worker process: survey an original, make its deliveries."""

from lanternslide.worker.make import make
from lanternslide.worker.survey import survey

__all__ = ["make", "survey"]
