"""The commissioning ladder."""
