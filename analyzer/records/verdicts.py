"""What a person can say of a finding."""

VERDICTS = ("confirmed", "not found on inspection", "accepted", "fixed")
#: Those after which a finding no longer stands open.
SETTLING = ("not found on inspection", "accepted", "fixed")
