"""What is measured at the machine: a bed surveyed, zeros verified, and what to do about both."""
