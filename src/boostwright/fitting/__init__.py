"""The model fitted to this engine: multipliers from its own baseline, with what could not be told."""
