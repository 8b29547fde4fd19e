"""Defects, the shop's lining procedure and the history at that place: what may be done, and by which rule?"""
