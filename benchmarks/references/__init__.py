"""The same cycle by general-purpose libraries, to hold our own against."""
