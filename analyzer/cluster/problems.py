"""What can be wrong with a cluster, as a sentence."""

#: What is said of the work that was done, to who keeps its results.
KEPT = "What was kept stays; the same call goes on from there"


class ClusterError(Exception):
    """A cluster cannot be used, or not any more; the text is one sentence."""
