//! The inputs of a run, recorded and replayed.
