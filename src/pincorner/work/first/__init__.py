"""The first hour: the guided set-up of a shop, commented documents, offsets taken over."""
