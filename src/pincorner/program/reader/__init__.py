"""From a program's text to its motions, remarks and summary, by the rules of RS274/NGC."""
