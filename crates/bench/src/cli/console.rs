//! Progress and warnings on stderr, and Ctrl+C. A terminal gets one line that rewrites itself; a pipe stays quiet, but
//! long work says now and then that it is alive.

use std::{
    io::{self, IsTerminal, Write},
    sync::{
        Mutex, PoisonError,
        atomic::{AtomicBool, Ordering},
    },
    time::{Duration, Instant},
};

use joulemark_frames::Progress;

use super::exit;

/// A terminal line changes at most this often.
const TERMINAL_PACE: Duration = Duration::from_millis(100);
/// A pipe gets a line at most this often.
const PIPE_PACE: Duration = Duration::from_secs(10);

static CANCELLED: AtomicBool = AtomicBool::new(false);

/// Stderr as one command sees it.
pub(super) struct Console {
    quiet: bool,
    terminal: bool,
    state: Mutex<State>,
}

struct State {
    last: Instant,
    stage: String,
    line_shown: bool,
}

impl Console {
    /// Starts listening for Ctrl+C: the first asks the work to stop, the second ends the program at once.
    pub(super) fn new(quiet: bool) -> Self {
        let listening = ctrlc::set_handler(|| {
            if CANCELLED.swap(true, Ordering::Relaxed) {
                std::process::exit(exit::CANCELLED.into());
            }
        });
        let console = Self {
            quiet,
            terminal: io::stderr().is_terminal(),
            state: Mutex::new(State { last: Instant::now(), stage: String::new(), line_shown: false }),
        };
        if let Err(e) = listening {
            console.warn(&format!("Ctrl+C will end the program without tidying up: {e}"));
        }
        console
    }

    /// One line that is no warning.
    pub(super) fn note(&self, note: &str) {
        self.clear();
        let _ = writeln!(io::stderr(), "{note}");
    }

    /// One warning on a line of its own.
    pub(super) fn warn(&self, warning: &str) {
        self.clear();
        let line = warning.split_whitespace().collect::<Vec<_>>().join(" ");
        let _ = writeln!(io::stderr(), "warning: {line}");
    }

    /// Takes the progress line away, before anything else is written to the terminal.
    pub(super) fn clear(&self) {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        if state.line_shown {
            let _ = write!(io::stderr(), "\r\x1b[K");
            state.line_shown = false;
        }
    }
}

impl Drop for Console {
    fn drop(&mut self) {
        self.clear();
    }
}

impl Progress for Console {
    fn report(&self, stage: &str, done: usize, total: usize) {
        if self.quiet {
            return;
        }
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        let pace = if self.terminal { TERMINAL_PACE } else { PIPE_PACE };
        let new_stage = self.terminal && state.stage != stage;
        if !new_stage && state.last.elapsed() < pace {
            return;
        }
        let line = if total > 1 { format!("{stage}: {done} of {total}") } else { stage.to_owned() };
        let mut err = io::stderr().lock();
        let _ = if self.terminal { write!(err, "\r\x1b[K{line}") } else { writeln!(err, "{line}") };
        let _ = err.flush();
        state.line_shown = self.terminal;
        state.last = Instant::now();
        stage.clone_into(&mut state.stage);
    }

    fn cancelled(&self) -> bool {
        CANCELLED.load(Ordering::Relaxed)
    }
}
