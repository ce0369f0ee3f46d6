//! Who does what: large pictures one at a time, so that memory stays bounded.

use std::{collections::VecDeque, path::Path, sync::Mutex, thread};

use indicatif::{ProgressBar, ProgressStyle};
use serde::{Serialize, de::DeserializeOwned};

use crate::store::Store;

/// Pictures from this many pixels on are large.
const LARGE_PX: usize = 200_000;

/// Something to be done once.
pub trait Task: Send + Sync {
    /// What comes out.
    type Done: Clone + Send + Serialize + DeserializeOwned;

    /// What tells it from all other tasks of the same program.
    fn key(&self) -> String;

    /// Size of its picture.
    fn pixels(&self) -> usize;

    /// Does it.
    fn run(&self) -> Self::Done;
}

/// Tasks that wait, with their places in the whole list.
struct Waiting<T> {
    large: VecDeque<(usize, T)>,
    small: VecDeque<(usize, T)>,
    large_running: bool,
}

impl<T: Task> Waiting<T> {
    /// The next one; a large one where none is under way.
    fn next(&mut self) -> Option<(usize, T)> {
        if !self.large_running
            && let Some(task) = self.large.pop_front()
        {
            self.large_running = true;
            return Some(task);
        }
        self.small.pop_front()
    }
}

/// Does what is not in the store yet, and returns what came out of all tasks, in their order.
pub fn work<T: Task>(
    what: &str,
    tasks: Vec<T>,
    folder: &Path,
    threads: Option<usize>,
) -> Result<Vec<T::Done>, Box<dyn std::error::Error>> {
    let store = Store::open(folder)?;
    let mut known: Vec<Option<T::Done>> = tasks.iter().map(|task| store.get(&task.key())).collect();
    let open = tasks.into_iter().enumerate().filter(|(i, _)| known[*i].is_none());
    let (large, small): (VecDeque<_>, VecDeque<_>) = open.partition(|(_, task)| task.pixels() >= LARGE_PX);
    let bar = ProgressBar::new((large.len() + small.len()) as u64);
    bar.set_style(ProgressStyle::with_template("{msg} {pos}/{len} {wide_bar} {elapsed} gone, {eta} left")?);
    bar.set_message(what.to_owned());
    let threads = threads.or(thread::available_parallelism().ok().map(Into::into)).unwrap_or(1);
    let waiting = Mutex::new(Waiting { large, small, large_running: false });
    let finished = Mutex::new((Vec::new(), store));
    thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                while let Some((index, task)) = waiting.lock().ok().and_then(|mut w| w.next()) {
                    let done = task.run();
                    if let (true, Ok(mut waiting)) = (task.pixels() >= LARGE_PX, waiting.lock()) {
                        waiting.large_running = false;
                    }
                    bar.inc(1);
                    if let Ok(mut finished) = finished.lock() {
                        if let Err(error) = finished.1.add(&task.key(), &done) {
                            bar.println(error.to_string());
                        }
                        finished.0.push((index, done));
                    }
                }
            });
        }
    });
    bar.finish_and_clear();
    for (index, done) in finished.into_inner().map_err(|_| "a worker failed")?.0 {
        known[index] = Some(done);
    }
    Ok(known.into_iter().flatten().collect())
}
