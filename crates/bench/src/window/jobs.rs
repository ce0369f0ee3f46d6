//! Long work on named threads: what it does, how far it is, cancelling it, and its result by channel.

use std::{
    sync::{
        Arc, Mutex, PoisonError,
        atomic::{AtomicBool, AtomicUsize, Ordering},
        mpsc::{Receiver, Sender, channel},
    },
    thread,
};

use joulemark_frames::Progress;

/// How far a piece of work is; shared between its thread and the window.
#[derive(Debug, Default)]
pub struct JobProgress {
    stage: Mutex<String>,
    done: AtomicUsize,
    total: AtomicUsize,
    cancelled: AtomicBool,
    repaint: Option<egui::Context>,
}

impl Progress for JobProgress {
    fn report(&self, stage: &str, done: usize, total: usize) {
        {
            let mut shown = self.stage.lock().unwrap_or_else(PoisonError::into_inner);
            if *shown != stage {
                stage.clone_into(&mut shown);
            }
        }
        self.done.store(done, Ordering::Relaxed);
        self.total.store(total, Ordering::Relaxed);
        if let Some(ctx) = &self.repaint {
            // Work reports far more often than anyone can see.
            ctx.request_repaint_after(std::time::Duration::from_millis(50));
        }
    }

    fn cancelled(&self) -> bool {
        self.cancelled.load(Ordering::Relaxed)
    }
}

/// Work under way.
#[derive(Debug)]
pub struct Job {
    /// Its number, for cancelling.
    pub id: u64,
    /// What is being done, in words.
    pub title: String,
    progress: Arc<JobProgress>,
}

impl Job {
    /// What it is doing at present; empty before it says so.
    pub fn stage(&self) -> String {
        self.progress.stage.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// How far it is, 0 to 1, when it knows.
    pub fn fraction(&self) -> Option<f32> {
        let total = self.progress.total.load(Ordering::Relaxed);
        (total > 0).then(|| (self.progress.done.load(Ordering::Relaxed) as f32 / total as f32).min(1.0))
    }

    /// Whether it was asked to stop and has not stopped yet.
    pub fn stopping(&self) -> bool {
        self.progress.cancelled()
    }
}

/// The result of work: `R` from the work itself, or `None` when its thread died.
#[derive(Debug)]
pub struct Finished<R> {
    /// The job's number.
    pub id: u64,
    /// The job's title.
    pub title: String,
    /// Whether it was cancelled; its result is then to be thrown away.
    pub cancelled: bool,
    /// The result.
    pub result: Option<R>,
}

/// All work under way. `R` is what work results in.
#[derive(Debug)]
pub struct Jobs<R> {
    next: u64,
    running: Vec<Job>,
    sender: Sender<(u64, Option<R>)>,
    receiver: Receiver<(u64, Option<R>)>,
}

impl<R> Default for Jobs<R> {
    fn default() -> Self {
        let (sender, receiver) = channel();
        Self { next: 1, running: Vec::new(), sender, receiver }
    }
}

/// Sends a result even when the work panics, so that the window never waits for a dead thread.
struct Deliver<R> {
    id: u64,
    sender: Sender<(u64, Option<R>)>,
    result: Option<R>,
    repaint: Option<egui::Context>,
}

impl<R> Drop for Deliver<R> {
    fn drop(&mut self) {
        // The window may be gone already; then nobody waits for the result.
        let _ = self.sender.send((self.id, self.result.take()));
        if let Some(ctx) = &self.repaint {
            ctx.request_repaint();
        }
    }
}

impl<R: Send + 'static> Jobs<R> {
    /// Starts work on its own thread and returns its number.
    pub fn start(
        &mut self,
        ctx: Option<&egui::Context>,
        title: &str,
        work: impl FnOnce(&JobProgress) -> R + Send + 'static,
    ) -> u64 {
        let id = self.next;
        self.next += 1;
        let progress = Arc::new(JobProgress { repaint: ctx.cloned(), ..JobProgress::default() });
        self.running.push(Job { id, title: title.to_owned(), progress: Arc::clone(&progress) });
        let deliver = Deliver { id, sender: self.sender.clone(), result: None, repaint: ctx.cloned() };
        // When no thread can be had, `deliver` is dropped with the closure, and the job ends as one that died.
        let _ = thread::Builder::new().name(format!("joulemark: {title}")).spawn(move || {
            // Taken in whole: closures capture single fields otherwise, and nothing would be sent.
            let mut deliver = deliver;
            deliver.result = Some(work(&progress));
        });
        id
    }

    /// Asks work to stop.
    pub fn cancel(&self, id: u64) {
        for job in self.running.iter().filter(|j| j.id == id) {
            job.progress.cancelled.store(true, Ordering::Relaxed);
        }
    }

    /// Work under way, oldest first.
    pub fn running(&self) -> &[Job] {
        &self.running
    }

    /// Results that came in since the last call.
    pub fn poll(&mut self) -> Vec<Finished<R>> {
        let mut finished = Vec::new();
        while let Ok((id, result)) = self.receiver.try_recv() {
            if let Some(at) = self.running.iter().position(|j| j.id == id) {
                let job = self.running.remove(at);
                finished.push(Finished { id, cancelled: job.stopping(), title: job.title, result });
            }
        }
        finished
    }
}

#[cfg(test)]
mod tests {
    use std::time::{Duration, Instant};

    use super::*;

    fn wait<R: Send + 'static>(jobs: &mut Jobs<R>) -> Finished<R> {
        let until = Instant::now() + Duration::from_secs(10);
        loop {
            if let Some(finished) = jobs.poll().pop() {
                return finished;
            }
            assert!(Instant::now() < until, "the job never ended");
            thread::sleep(Duration::from_millis(1));
        }
    }

    #[test]
    fn work_reports_and_delivers() {
        let mut jobs = Jobs::default();
        let (go, gate) = channel::<()>();
        let id = jobs.start(None, "count", move |progress| {
            progress.report("counting", 3, 4);
            gate.recv().ok();
            42
        });
        while jobs.running()[0].stage().is_empty() {
            thread::sleep(Duration::from_millis(1));
        }
        assert_eq!(jobs.running()[0].stage(), "counting");
        while jobs.running()[0].fraction() != Some(0.75) {
            thread::sleep(Duration::from_millis(1));
        }
        go.send(()).expect("waiting");
        let finished = wait(&mut jobs);
        assert_eq!((finished.id, finished.result, finished.cancelled), (id, Some(42), false));
        assert!(jobs.running().is_empty());
    }

    #[test]
    fn cancelled_work_hears_of_it() {
        let mut jobs = Jobs::default();
        let id = jobs.start(None, "wait", |progress| {
            while !progress.cancelled() {
                thread::sleep(Duration::from_millis(1));
            }
        });
        jobs.cancel(id);
        assert!(wait(&mut jobs).cancelled);
    }

    #[test]
    fn work_that_panics_still_ends() {
        let mut jobs: Jobs<()> = Jobs::default();
        jobs.start(None, "fall over", |_| panic!("on purpose"));
        assert!(wait(&mut jobs).result.is_none());
    }
}
