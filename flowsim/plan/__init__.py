"""Decisions that run many cases."""
