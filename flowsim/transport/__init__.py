"""Where vapour and dust go: advection, diffusion and settling on the air flow of the chamber."""
