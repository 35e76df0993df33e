"""Many points of one case: sweeps that run by themselves."""
