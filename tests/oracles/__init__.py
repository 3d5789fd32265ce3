"""Second methods that tests compare the tool with; none of them imports the tool."""
