//! Exit codes: 0 done; 1 internal fault; 2 bad input, told in one line; 3 nothing above the noise. 130 is the shell's own
//! convention for Ctrl+C.

use std::{
    io::{self, Write},
    panic::{self, AssertUnwindSafe},
    process::ExitCode,
};

use joulemark_frames::FramesError;
use joulemark_locate::LocateError;

use super::Outcome;
use crate::case::BadInput;

const INTERNAL: u8 = 1;
const BAD_INPUT: u8 = 2;
const NOTHING_FOUND: u8 = 3;
/// 128 + SIGINT, as shells report it.
pub(super) const CANCELLED: u8 = 130;

/// Runs the program; a panic (our fault, never the input's) has told itself on stderr and ends with code 1.
pub(super) fn guard(program: impl FnOnce() -> ExitCode) -> ExitCode {
    panic::catch_unwind(AssertUnwindSafe(program)).unwrap_or_else(|_| ExitCode::from(INTERNAL))
}

pub(super) fn from_clap(stop: &clap::Error) -> ExitCode {
    // Writing fails only when the stream is closed, and then there is nobody to tell.
    if !stop.use_stderr() {
        let _ = stop.print();
        return ExitCode::SUCCESS;
    }
    let _ = writeln!(io::stderr(), "{}", usage_line(stop));
    ExitCode::from(BAD_INPUT)
}

/// A usage error in one line: what is wrong, without the usage and tips that follow it.
fn usage_line(stop: &clap::Error) -> String {
    let text = stop.render().to_string();
    let told = text.split("\n\n").next().unwrap_or_default();
    let line = told.split_whitespace().collect::<Vec<_>>().join(" ");
    if line.starts_with("error:") {
        format!("{line}; see joulemark --help")
    } else {
        "error: no command that can be run; see joulemark --help".to_owned()
    }
}

pub(super) fn from_result(result: anyhow::Result<Outcome>) -> ExitCode {
    match result {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::NothingFound) => ExitCode::from(NOTHING_FOUND),
        Ok(Outcome::BadInputTold) => ExitCode::from(BAD_INPUT),
        Err(error) => {
            let code = code(&error);
            // A reader that went away (`joulemark ... | head`) has what it wanted.
            if is_broken_pipe(&error) {
                return ExitCode::SUCCESS;
            }
            if code == CANCELLED {
                let _ = writeln!(io::stderr(), "cancelled");
            } else {
                tell(&error);
            }
            ExitCode::from(code)
        }
    }
}

/// One line on stderr.
pub(super) fn tell(error: &anyhow::Error) {
    let line = error.to_string().split_whitespace().collect::<Vec<_>>().join(" ");
    let _ = writeln!(io::stderr(), "error: {line}");
}

fn code(error: &anyhow::Error) -> u8 {
    if error.is::<BadInput>() {
        return BAD_INPUT;
    }
    match (error.downcast_ref::<FramesError>(), error.downcast_ref::<LocateError>()) {
        (Some(FramesError::Cancelled), _) | (_, Some(LocateError::Cancelled)) => CANCELLED,
        (None, None) => INTERNAL,
        _ => BAD_INPUT,
    }
}

/// Whether an error is the user's own Ctrl+C.
pub(super) fn is_cancelled(error: &anyhow::Error) -> bool {
    code(error) == CANCELLED
}

fn is_broken_pipe(error: &anyhow::Error) -> bool {
    error.downcast_ref::<io::Error>().is_some_and(|e| e.kind() == io::ErrorKind::BrokenPipe)
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;

    #[test]
    fn codes_follow_the_cause() {
        assert_eq!(code(&BadInput::in_file(Path::new("x"), &"bad")), BAD_INPUT);
        assert_eq!(code(&FramesError::LawNeeded { file: "x".into(), bits: 16 }.into()), BAD_INPUT);
        assert_eq!(code(&FramesError::Cancelled.into()), CANCELLED);
        assert_eq!(code(&LocateError::Cancelled.into()), CANCELLED);
        assert_eq!(code(&LocateError::Constant.into()), BAD_INPUT);
        assert_eq!(code(&anyhow::anyhow!("surprise")), INTERNAL);
    }
}
