"""What can be wrong with a cluster, as a sentence."""


class ClusterError(Exception):
    """A cluster cannot be used, or not any more; the text is one sentence."""
