"""The one door for files: where the shop is, what is written, and what a kill leaves is settled."""
