"""The cautions that stand wherever results are read."""

CAUTIONS = (
    "These results support maintenance decisions by appropriately certificated persons under the aircraft's "
    "maintenance manual and local rules; they do not declare an aircraft airworthy.",
    "Endurance is an estimate for planning on the ground, never for stretching a flight.",
    "Overcharging batteries vent explosive gas and can burn. Tripped breakers guard wires; resetting one is for "
    "the flight manual and the pilot in command.",
)
#: Said wherever something was looked for and not seen.
NOT_SEEN = "Not recorded does not mean it did not happen: a log shows what it samples and no more."
