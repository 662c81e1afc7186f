"""The command line: a table of commands, one sentence for every error, and no physics."""
