"""Airflow in a home-built clean-air work enclosure."""

__version__ = "0.1.0"
