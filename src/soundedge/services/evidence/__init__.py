"""What others can check: sealing, checking, outside copies, backups, keys and the ledger's own entries."""
