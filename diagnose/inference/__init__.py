"""Numbers and readings -> belief -> advice."""
