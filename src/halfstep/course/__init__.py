"""What there is to learn, and in which order: units of a course, their skills, their map."""
