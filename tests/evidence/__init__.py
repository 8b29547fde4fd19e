"""What happens to the record when everything goes wrong: counted. ``python -m tests.evidence`` prints the table."""
