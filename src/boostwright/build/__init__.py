"""The build document: what a person states, each value with its spread and source."""
