"""Compiled loops behind `boostwright.physics`: floats in, caller-allocated arrays out, an integer status
back.
"""
