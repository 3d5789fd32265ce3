"""Programs changed, every other byte kept: stamped with a block, repeated over stations."""
