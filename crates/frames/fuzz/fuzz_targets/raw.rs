//! Arbitrary bytes as a sidecar, a zero byte, and raw frames.

#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| joulemark_frames_fuzz::raw(bytes));
