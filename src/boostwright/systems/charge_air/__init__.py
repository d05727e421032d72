"""What the air passes from filter to plenum, and the exhaust from turbine to tail pipe: loss, cooling,
soak.
"""
