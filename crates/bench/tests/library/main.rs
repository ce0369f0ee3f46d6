//! The shop's library as a whole: both databases by the same tests, many processes on one library, the command line.
//!
//! Tests with `postgres` in their name need a server by JOULEMARK_POSTGRES_URL and are ignored without one; `tests/run` starts it and runs
//! them: `cargo test --workspace --test library -- --ignored postgres`.

#![allow(clippy::unwrap_used, reason = "a helper of tests fails like a test")]

mod command_line;
mod index;
mod places;
mod prior;
mod processes;
mod shop;
#[path = "../cli/support/mod.rs"]
mod support;
mod worker;
