"""Pure functions in SI units on floats and arrays; `physics.kernels` holds the compiled loops."""
