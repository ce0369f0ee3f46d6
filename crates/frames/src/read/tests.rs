//! Tests of all readers.
