"""The job in the browser: single entries from several people, straight into the shop's ledger."""
