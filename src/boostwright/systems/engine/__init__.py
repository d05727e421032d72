"""The engine cycle and the naturally aspirated baseline."""
