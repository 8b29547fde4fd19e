"""One rule each, as a small pure function that the steps ask."""
