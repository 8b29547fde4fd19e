"""How large is the damage in this photo, and how sure is that? From a printed card, a phone photo and taps to mm²."""
