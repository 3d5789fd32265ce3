"""Templates and the rooms they run in: the shipped ones, and a shop's own."""
