"""Who does the work: processes of this machine, or a cluster, behind one seam (`executor`).

Nothing is imported here: a worker process begins with this package, and needs little of it.
"""
