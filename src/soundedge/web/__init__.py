"""The bench in the browser: pages, templates, static files and the HTTP API, one of each per trade step."""
