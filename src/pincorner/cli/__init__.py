"""The command line: thin commands that call one function of work and print."""
