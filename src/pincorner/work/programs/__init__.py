"""Commands about programs: check, stamp, repeat."""
