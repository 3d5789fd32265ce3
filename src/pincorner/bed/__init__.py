"""A bed through its life: how high its surface is, and what wood is left over metal."""
