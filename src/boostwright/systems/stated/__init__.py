"""From what a build states to the records that the models take, one file for each system.

Nothing is decided here: every number comes from the build (stated, or assumed with its spread); only its
shape changes.
"""
