"""Reference tables as data files; each row has its source, unit and spread."""
