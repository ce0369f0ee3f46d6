//! The command line: the built program is run as a user would, and what it says and writes is checked. One program of tests, because
//! each of its own would have to be linked.

#![allow(clippy::unwrap_used, reason = "a test says what broke")]

mod bad_input;
mod compare;
mod exercise;
mod files;
mod handout;
mod locate;
mod plan;
mod report;
mod support;
