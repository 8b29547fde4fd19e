"""Gauges: when was each last known to be good, and what falls when it was not?"""
