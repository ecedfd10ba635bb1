"""Sections of the studies: each function takes a Study and returns the exhibits that a notebook shows."""
