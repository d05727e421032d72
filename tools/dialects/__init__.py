"""Made-up log files in the habits of all sorts of loggers, each with what a right reader makes of it."""
