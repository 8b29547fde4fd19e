"""A job on paper: the certificate or the hold notice, and the cards for the bench. Same view, same bytes."""
