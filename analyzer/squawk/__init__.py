"""A report in a pilot's words against the recordings: what is seen for it, what against it, what could not show."""
