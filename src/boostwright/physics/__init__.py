"""Pure functions in SI units on floats and arrays; `physics.kernels` is the back room with the compiled loops."""
