//! Starts the reference scripts of this folder with the Python that `tests/run` sets up. Shared by the tests of all crates
//! through `#[path]`.

use std::{
    env,
    ffi::OsStr,
    io::Write,
    path::{Path, PathBuf},
    process::{Command, Stdio},
};

/// Runs a script of this folder and returns what it prints.
///
/// # Panics
/// When Python is missing or the script fails; the message says what it printed.
pub fn run(script: &str, arguments: &[&OsStr], input: &[u8]) -> Vec<u8> {
    // Every crate lies two folders below the repository.
    let repository = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let python = env::var_os("JOULEMARK_PYTHON").map_or_else(|| repository.join(".venv/bin/python"), PathBuf::from);
    assert!(
        python.is_file(),
        "{} is missing: run tests/run, which sets up the reference environment, or set JOULEMARK_PYTHON",
        python.display()
    );
    let mut child = Command::new(python)
        .arg(repository.join("tests/reference").join(script))
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("Python starts");
    // A script that ends early has something to say on its error stream.
    let written = child.stdin.take().expect("piped").write_all(input);
    let output = child.wait_with_output().expect("it was started");
    assert!(output.status.success(), "{script}: {}", String::from_utf8_lossy(&output.stderr));
    written.expect("the script reads its input");
    output.stdout
}
