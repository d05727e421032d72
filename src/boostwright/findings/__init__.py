"""What is judged: one file per subject, with demand, capacity, margin, cause, remedy and harm."""
