"""From a Setup to text, SVG and HTML. No arithmetic on positions."""
