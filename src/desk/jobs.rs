//! Work beside the window: started here, watched here, its results handed over as events.

use std::collections::BTreeMap;
use std::panic::AssertUnwindSafe;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};

use crate::machine::PhotoId;

/// Number of a running job.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct JobId(pub u64);

/// A running job as it is shown.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Its number.
    pub id: JobId,
    /// What is being done.
    pub what: String,
    /// How far it is, 0 to 1; `None` when that cannot be said.
    pub done: Option<f32>,
    /// Whether it can be stopped.
    pub can_cancel: bool,
}

/// Something that happened beside the window.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// A record was opened.
    Opened(PathBuf),
    /// The record was saved.
    Saved(PathBuf),
    /// A photo was added to the record.
    PhotoAdded(PhotoId),
    /// Pixels of a photo are there to draw, by hash.
    PhotoReady(String),
    /// Something did not work: what was being done, and a sentence that names file, place and what to do.
    Failed {
        /// What was being done.
        what: String,
        /// Why it did not work and what to do.
        message: String,
    },
    /// A word about something that worked.
    Remark(String),
}

/// Shared between a job and whoever watches it.
#[derive(Debug, Default)]
pub(super) struct Watch {
    per_mille: AtomicU32,
    known: AtomicBool,
    stop: AtomicBool,
}

impl Watch {
    /// Says how far the job is, 0 to 1.
    pub(super) fn progress(&self, share: f64) {
        let bounded = share.clamp(0.0, 1.0) * 1000.0;
        // Bounded to 0..=1000 on the line above.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        self.per_mille.store(bounded as u32, Ordering::Relaxed);
        self.known.store(true, Ordering::Relaxed);
    }

    /// Whether the job was asked to stop.
    pub(super) fn is_stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    fn done(&self) -> Option<f32> {
        let share = self.per_mille.load(Ordering::Relaxed) as f32 / 1000.0;
        self.known.load(Ordering::Relaxed).then_some(share)
    }
}

struct Running {
    what: String,
    can_cancel: bool,
    watch: Arc<Watch>,
}

/// Called from any thread when something new can be collected.
pub(super) type Waker = Arc<dyn Fn() + Send + Sync>;

/// The running jobs, and the way their results come back. `T` is what a job hands over.
pub(super) struct Jobs<T> {
    running: BTreeMap<JobId, Running>,
    next: u64,
    sender: Sender<(JobId, Result<T, String>)>,
    receiver: Receiver<(JobId, Result<T, String>)>,
    waker: Waker,
}

impl<T: Send + 'static> Jobs<T> {
    pub(super) fn new() -> Self {
        let (sender, receiver) = channel();
        Self { running: BTreeMap::new(), next: 1, sender, receiver, waker: Arc::new(|| ()) }
    }

    pub(super) fn set_waker(&mut self, waker: Waker) {
        self.waker = waker;
    }

    /// Starts a job on a thread of its own. Its result is collected with [`Self::collect`].
    pub(super) fn start(
        &mut self,
        what: String,
        can_cancel: bool,
        work: impl FnOnce(&Watch) -> T + Send + 'static,
    ) -> Result<JobId, String> {
        let id = JobId(self.next);
        self.next += 1;
        let watch = Arc::new(Watch::default());
        let (sender, waker, seen) = (self.sender.clone(), Arc::clone(&self.waker), Arc::clone(&watch));
        std::thread::Builder::new()
            .name(format!("job {}", id.0))
            .spawn(move || {
                // A job that breaks is told of, and takes nothing else along.
                let result = std::panic::catch_unwind(AssertUnwindSafe(|| work(&seen)));
                let result = result.map_err(|_| "it broke inside the program; nothing was changed by it".to_owned());
                // The desk may be gone by now; then nobody waits for the result.
                drop(sender.send((id, result)));
                waker();
            })
            .map_err(|error| format!("the system would not start more work: {error}; close something and try again"))?;
        self.running.insert(id, Running { what, can_cancel, watch });
        Ok(id)
    }

    /// Results that have come in, each once; for a job that broke, what it was and why there is none.
    pub(super) fn collect(&mut self) -> Vec<Result<T, (String, String)>> {
        let mut results = Vec::new();
        while let Ok((id, result)) = self.receiver.try_recv() {
            results.push(self.taken(id, result));
        }
        results
    }

    fn taken(&mut self, id: JobId, result: Result<T, String>) -> Result<T, (String, String)> {
        let job = self.running.remove(&id);
        result.map_err(|why| (job.map_or_else(String::new, |job| job.what), why))
    }

    /// Waits for the next result; `None` when nothing is running.
    pub(super) fn wait(&mut self) -> Option<Result<T, (String, String)>> {
        if self.running.is_empty() {
            return None;
        }
        let (id, result) = self.receiver.recv().ok()?;
        Some(self.taken(id, result))
    }

    pub(super) fn shown(&self) -> Vec<Job> {
        let shown = |(&id, job): (&JobId, &Running)| Job {
            id,
            what: job.what.clone(),
            done: job.watch.done(),
            can_cancel: job.can_cancel,
        };
        self.running.iter().map(shown).collect()
    }

    pub(super) fn cancel(&self, id: JobId) {
        if let Some(job) = self.running.get(&id) {
            job.watch.stop.store(true, Ordering::Relaxed);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_job_that_breaks_is_told_of_and_the_next_one_runs() {
        let mut jobs: Jobs<u32> = Jobs::new();
        jobs.start("Breaking".to_owned(), false, |_| panic!("on purpose")).unwrap();
        let (what, why) = jobs.wait().unwrap().unwrap_err();
        assert_eq!(what, "Breaking");
        assert!(why.contains("nothing was changed"), "{why}");
        assert!(jobs.shown().is_empty());
        jobs.start("Working".to_owned(), false, |_| 7).unwrap();
        assert_eq!(jobs.wait(), Some(Ok(7)));
    }
}
