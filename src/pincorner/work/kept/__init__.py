"""What is kept with papers that were written, and whether it still holds."""
