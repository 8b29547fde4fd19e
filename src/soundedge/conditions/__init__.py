"""May this steel be worked on now? Air, dew point, salts, profile, dust and the clock since preparation."""
