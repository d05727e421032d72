"""What a terminal, a file or a plot says: unit choice, rounding, wording."""
