"""Stations worked in turn: where the machine is when, loading windows, the timeline, what helps."""
