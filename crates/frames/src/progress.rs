//! How long work tells its caller how far it is, and learns that it should stop.

/// Receives progress from long work. Implementations are called from worker threads.
pub trait Progress: Sync {
    /// `stage` says what is being done ("reading frames"); `done` of `total` steps are finished.
    fn report(&self, stage: &str, done: usize, total: usize);

    /// When this turns true the work stops soon and returns its crate's `Cancelled` error.
    fn cancelled(&self) -> bool {
        false
    }
}

/// Ignores progress and never cancels.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoProgress;

impl Progress for NoProgress {
    fn report(&self, _stage: &str, _done: usize, _total: usize) {}
}
