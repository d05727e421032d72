"""The build document: what a person states about car, engine, parts and goal, each value with spread and source."""
