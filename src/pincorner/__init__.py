"""Work-offset and fixture registry for repeat jobs."""
