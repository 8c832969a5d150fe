"""Rimebook: the straw bank of a stallion station, as a service."""
