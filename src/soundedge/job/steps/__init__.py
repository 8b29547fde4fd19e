"""The trade steps of a job: each asks its room and says what holds the job there."""
