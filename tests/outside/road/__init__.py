"""The roads into the daemon, as programs of other people would take them."""
