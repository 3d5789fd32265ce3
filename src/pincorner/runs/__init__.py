"""Several stations worked in turn, and how far what moves stays from hands."""
