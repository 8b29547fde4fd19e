"""Sound Edge: find, decide, plan, do, prove and release the spot repair of a thick lining.

The rooms are named after the steps of the trade; ``ARCHITECTURE.md`` is the plan of the house.
Nothing is imported here, so that asking one room does not wake the others.
"""

__version__ = "0.3.0"
