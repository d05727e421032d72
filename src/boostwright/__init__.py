"""boostwright: from one build file to a verdict on a turbo conversion."""

__version__ = "0.1.0"
