"""One repair as a value: typed events, the fold over them, the gates between the steps. Pure."""
