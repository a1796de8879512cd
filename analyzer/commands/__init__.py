"""The subcommands of ``taper``, one module each."""
