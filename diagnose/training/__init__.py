"""Simulated hunts, drills and replays."""
