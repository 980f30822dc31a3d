"""One file a command. Each defines `command`; heavy imports stay inside the functions."""
