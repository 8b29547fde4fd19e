"""The shop's ledger on disk: every job's events in one append-only table, files by their digest.

``ledger.py`` is the only way in; ``blobs.py`` keeps pictures and pages; ``projections.py`` what is derived.
"""
