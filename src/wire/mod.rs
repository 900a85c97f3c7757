//! The protocols: bytes to requests, status to bytes. Pure.
