"""The build as working systems: the engine cycle, the turbo, and the match that couples them."""
