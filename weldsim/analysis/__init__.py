"""Arrays and numbers in, numbers out; this room knows no scenario and no file."""
