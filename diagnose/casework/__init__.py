"""One hunt: events, the case that they add up to, and the file that keeps them."""
