"""The faces of the program: the command line."""
