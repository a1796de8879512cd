"""A report in a pilot's words against the recordings: what is seen for it, what against it, what could not show."""

from analyzer.callable_module import make_callable

make_callable(__name__)
