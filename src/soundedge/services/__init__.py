"""Gather, think, keep, show: the only floor with a clock, a disk, keys and settings."""
