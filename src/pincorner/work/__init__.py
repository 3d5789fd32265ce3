"""One function per command: read documents, ask setups and render, write back and record."""
