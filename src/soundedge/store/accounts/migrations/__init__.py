"""The tables of the accounts, change by change."""
