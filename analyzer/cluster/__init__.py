"""Work on logs spread over other machines: the workers of a Dask cluster that an operator started and named.

Whoever reaches a cluster's scheduler can make its workers run anything, under their account and with their rights:
scheduler and workers belong on a trusted network, or behind the scheduler's own TLS (an address ``tls://...``).
"""
