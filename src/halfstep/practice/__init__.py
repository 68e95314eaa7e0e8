"""What a student practises next: evidence over time, what it makes likely, and the plan."""
