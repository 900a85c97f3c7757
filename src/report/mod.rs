//! What people look at after a check.
