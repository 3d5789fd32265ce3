"""Programs: text to words to motions to findings; stamping and repeating."""
