"""Film thickness: gauge readings, the rules that judge them, and what they do not prove."""
