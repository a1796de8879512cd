"""What people ask for, each worked out in one place: the command line, the pages and other programs call these."""
