"""Potential flow in the chamber on one grid with three closures."""
