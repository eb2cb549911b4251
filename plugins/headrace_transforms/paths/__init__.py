"""Paths: arcs, holes, rapids."""
