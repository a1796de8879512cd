"""What a person can say of a finding."""

VERDICTS = ("confirmed", "not found on inspection", "accepted", "fixed")
