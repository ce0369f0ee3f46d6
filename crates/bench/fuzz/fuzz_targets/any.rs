//! Arbitrary bytes, the kind found by their content.

#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| joulemark_bench_fuzz::any(bytes));
