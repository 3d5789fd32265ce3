"""A simulation of the physics, apart from the package: what the budget is held against."""
