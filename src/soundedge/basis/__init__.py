"""What every room speaks: numbers with units, findings with reasons, sources, materials, errors.

This room knows no other room.
"""
