"""One build drawn many times through the whole match: bands, odds, shares, and what to measure first."""
