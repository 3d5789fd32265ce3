"""Where on a bed a jig can lie: one place, or several at once."""
