//! Threads, sockets, timers, signals: the only place with a clock.
