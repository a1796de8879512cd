"""One module a page: layout and wiring only, no arithmetic, no SQL."""
