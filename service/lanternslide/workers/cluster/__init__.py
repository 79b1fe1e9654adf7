"""Work on more than one machine, with dask.distributed: an engine that exists, behind the executor's seam.

Only what the config asks for loads this package; it needs the extra ``cluster``.
"""

from lanternslide.workers.cluster.engine import Cluster

__all__ = ["Cluster"]
