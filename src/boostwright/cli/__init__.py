"""The command line: one command reads arguments, calls one verb and prints one view."""
