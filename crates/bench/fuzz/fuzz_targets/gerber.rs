//! Arbitrary bytes as Gerber.

#![no_main]

use joulemark::board_files::FileKind;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| joulemark_bench_fuzz::read(FileKind::Gerber, bytes));
