//! Who does what: large pictures one at a time, so that memory stays bounded.

use std::{collections::VecDeque, sync::Mutex};

use crate::job::Job;

/// Pictures from this many pixels on are large.
const LARGE_PX: usize = 200_000;

/// Jobs that wait, with their places in the whole list.
pub struct Queue {
    waiting: Mutex<Waiting>,
}

struct Waiting {
    large: VecDeque<(usize, Job)>,
    small: VecDeque<(usize, Job)>,
    large_running: bool,
}

impl Queue {
    /// All of them.
    pub fn new(jobs: Vec<(usize, Job)>) -> Self {
        let (large, small): (VecDeque<_>, VecDeque<_>) = jobs.into_iter().partition(|(_, job)| is_large(job));
        Self { waiting: Mutex::new(Waiting { large, small, large_running: false }) }
    }

    /// The next one; a large one where none is under way.
    pub fn next(&self) -> Option<(usize, Job)> {
        let mut waiting = self.waiting.lock().ok()?;
        if !waiting.large_running
            && let Some(job) = waiting.large.pop_front()
        {
            waiting.large_running = true;
            return Some(job);
        }
        waiting.small.pop_front()
    }

    /// To be called when a job is over.
    pub fn done(&self, job: &Job) {
        if let (true, Ok(mut waiting)) = (is_large(job), self.waiting.lock()) {
            waiting.large_running = false;
        }
    }
}

fn is_large(job: &Job) -> bool {
    let (width, height) = job.picture_size();
    width * height >= LARGE_PX
}
