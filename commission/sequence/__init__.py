"""Sequence of operation: functional tests, trend logs judged, and the simulated unit."""
