//! Arbitrary bytes as Npz.

#![no_main]

use joulemark_frames::read::Kind;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| joulemark_frames_fuzz::read(Kind::Npz, bytes));
