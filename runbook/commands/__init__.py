"""What each command does: a module a command, imported only when it is asked for."""
