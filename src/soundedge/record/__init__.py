"""The record of a job: exact bytes, chained, that a stranger can check years later. Pure.

The format stands at the top of ``entry.py``; how it is checked in ``verify.py``.
"""
