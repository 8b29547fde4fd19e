"""The pages, one module per trade step; each has ``PAGES``."""
