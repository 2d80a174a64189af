//! Holding schemes.
