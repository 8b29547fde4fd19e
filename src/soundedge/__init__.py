"""Sound Edge: find, decide, plan, do, prove and release the spot repair of a thick lining.

The rooms are named after the steps of the trade; ``ARCHITECTURE.md`` is the plan of the house.
No room is imported here, so that asking one does not wake the others.
"""

import os

# Linear algebra keeps to one thread, unless somebody says otherwise: matrices are small here, and on a machine with other work
# threads that wait for each other take forty times as long.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.3.0"
