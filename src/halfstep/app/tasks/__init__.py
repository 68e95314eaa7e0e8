"""Things done for a student, for every face: what is kept is read, worked with, and kept again."""
