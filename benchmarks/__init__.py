"""Measurements, and the independent SQL version of the main job that the tests compare with."""
