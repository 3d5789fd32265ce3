"""A program against what stands around it: clearance, fences, and what is told of both."""
