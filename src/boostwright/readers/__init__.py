"""Files from outside, read into the build document."""
