"""Many hunts: what the logged cases of a plant teach, as data."""
