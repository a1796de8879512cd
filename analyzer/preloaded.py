"""What every helper needs, loaded once in the process that helpers are forked from.

Nothing here may start a thread: what is forked while another thread holds a lock waits for it for ever. Polars starts
some as it is loaded, so that each helper loads it by itself.
"""

from analyzer import results, review
from analyzer.findings.causes import load_knowledge
from analyzer.flights.ammeter import load_evidence
from analyzer.limits import load_limits
from analyzer.logs.words import vocabulary
from analyzer.service import review_logs

__all__ = ["results", "review", "review_logs"]

load_limits(), vocabulary(), load_knowledge(), load_evidence()  # parsed once, and remembered
