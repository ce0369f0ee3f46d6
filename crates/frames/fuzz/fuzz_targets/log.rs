//! Arbitrary bytes as a capture log, matched to a few frames.

#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| joulemark_frames_fuzz::log(bytes));
