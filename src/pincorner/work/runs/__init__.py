"""Commands about stations worked in turn: what runs there, the plan, what would help."""
