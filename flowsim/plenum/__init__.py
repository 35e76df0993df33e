"""The 2D plenum under the work surface and the 1D distributor tube."""
