//! Work beside the window: started here, watched here, its results handed over as events.

use std::collections::{BTreeMap, VecDeque};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crate::machine::PhotoId;

use super::following::WireProposed;

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
    /// It was asked to stop, and ends at the next place where it can.
    pub stopping: bool,
    /// It is over before it could be read: not to be told of.
    pub quiet: bool,
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
    /// Wires that may run between terminals of a photo, the likeliest first.
    WiresProposed(PhotoId, Vec<WireProposed>),
    /// Something did not work: what was being done, and a sentence that names file, place and what to do.
    Failed {
        /// What was being done.
        what: String,
        /// Why it did not work and what to do.
        message: String,
    },
    /// Something worked, and is not whole: what, and what to know and do about it.
    Warned {
        /// What it is about.
        what: String,
        /// What to know and do.
        message: String,
    },
    /// A file was written for the program of this system that shows and prints it.
    ToView(PathBuf),
    /// A packed record was unpacked, and its file lies here.
    Unpacked(PathBuf),
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

/// How a job is gone about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Manner {
    /// At once, on a thread of its own.
    AtOnce,
    /// At once, and to its end even when the program is left meanwhile: what is being written is written.
    ToTheEnd,
    /// At once, and over before it could be read.
    Quietly,
    /// A few at a time, the others wait their turn; each can be stopped.
    InTurn,
}

/// So many jobs of [`Manner::InTurn`] are done at once: each may hold a decoded photo of 440 MB.
const AT_ONCE: usize = 2;

struct Running {
    what: String,
    manner: Manner,
    watch: Arc<Watch>,
}

type Work = Box<dyn FnOnce() + Send>;

/// Jobs that wait their turn, and how many threads work them off.
#[derive(Default)]
struct Queue {
    busy: usize,
    waiting: VecDeque<Work>,
}

/// What work gives, or a sentence when it broke inside the program.
pub(super) fn or_broken<T>(work: impl FnOnce() -> Result<T, String>) -> Result<T, String> {
    catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|_| Err(BROKEN.to_owned()))
}

const BROKEN: &str = "it broke inside the program; nothing was changed by it";

/// Called from any thread when something new can be collected.
pub(super) type Waker = Arc<dyn Fn() + Send + Sync>;

/// The running jobs, and the way their results come back. `T` is what a job hands over.
pub(super) struct Jobs<T> {
    running: BTreeMap<JobId, Running>,
    next: u64,
    sender: Sender<(JobId, Result<T, String>)>,
    receiver: Receiver<(JobId, Result<T, String>)>,
    waker: Waker,
    queue: Arc<Mutex<Queue>>,
}

impl<T: Send + 'static> Jobs<T> {
    pub(super) fn new() -> Self {
        let (sender, receiver) = channel();
        let queue = Arc::default();
        Self { running: BTreeMap::new(), next: 1, sender, receiver, waker: Arc::new(|| ()), queue }
    }

    pub(super) fn set_waker(&mut self, waker: Waker) {
        self.waker = waker;
    }

    /// What wakes whoever shows the results.
    pub(super) fn waker(&self) -> Waker {
        Arc::clone(&self.waker)
    }

    /// Starts a job, or has it wait its turn. Its result is collected with [`Self::collect`].
    pub(super) fn start(
        &mut self,
        what: String,
        manner: Manner,
        work: impl FnOnce(&Watch) -> T + Send + 'static,
    ) -> Result<JobId, String> {
        let id = JobId(self.next);
        self.next += 1;
        let watch = Arc::new(Watch::default());
        let (sender, waker, seen) = (self.sender.clone(), Arc::clone(&self.waker), Arc::clone(&watch));
        let work: Work = Box::new(move || {
            // A job that breaks is told of, and takes nothing else along.
            let result = catch_unwind(AssertUnwindSafe(|| work(&seen))).map_err(|_| BROKEN.to_owned());
            // The desk may be gone by now; then nobody waits for the result.
            drop(sender.send((id, result)));
            waker();
        });
        match manner {
            Manner::AtOnce | Manner::Quietly | Manner::ToTheEnd => spawn(format!("job {}", id.0), work),
            Manner::InTurn => self.line_up(work),
        }
        .map_err(|error| format!("the system would not start more work: {error}; close something and try again"))?;
        self.running.insert(id, Running { what, manner, watch });
        Ok(id)
    }

    /// Has work wait its turn; starts a thread to work it off while there are few.
    fn line_up(&self, work: Work) -> std::io::Result<()> {
        let mut queue = locked(&self.queue);
        queue.waiting.push_back(work);
        if queue.busy < AT_ONCE {
            let shared = Arc::clone(&self.queue);
            match spawn("in turn".to_owned(), move || work_off(&shared)) {
                Ok(()) => queue.busy += 1,
                // With another at work it is done all the same, only later.
                Err(_) if queue.busy > 0 => {}
                Err(error) => {
                    queue.waiting.pop_back();
                    return Err(error);
                }
            }
        }
        Ok(())
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
            can_cancel: job.manner == Manner::InTurn,
            stopping: job.watch.is_stopped(),
            quiet: job.manner == Manner::Quietly,
        };
        self.running.iter().map(shown).collect()
    }

    pub(super) fn is_running(&self, id: JobId) -> bool {
        self.running.contains_key(&id)
    }

    pub(super) fn cancel(&self, id: JobId) {
        if let Some(job) = self.running.get(&id) {
            job.watch.stop.store(true, Ordering::Relaxed);
        }
    }
}

impl<T> Drop for Jobs<T> {
    fn drop(&mut self) {
        locked(&self.queue).waiting.clear();
        while self.running.values().any(|job| job.manner == Manner::ToTheEnd) {
            let Ok((id, _)) = self.receiver.recv() else { return };
            self.running.remove(&id);
        }
    }
}

fn spawn(name: String, work: impl FnOnce() + Send + 'static) -> std::io::Result<()> {
    std::thread::Builder::new().name(name).spawn(work).map(drop)
}

/// The queue; one that broke while it held it left it whole, as nothing in between can break.
fn locked(queue: &Mutex<Queue>) -> MutexGuard<'_, Queue> {
    queue.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Does what waits, one after the other, until nothing does.
fn work_off(queue: &Mutex<Queue>) {
    loop {
        let mut held = locked(queue);
        let Some(work) = held.waiting.pop_front() else {
            held.busy -= 1;
            return;
        };
        drop(held);
        // Whoever is woken may break; the others still have their turn.
        drop(catch_unwind(AssertUnwindSafe(work)));
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::AtomicUsize;
    use std::time::Duration;

    use super::*;

    #[test]
    fn a_job_that_breaks_is_told_of_and_the_next_one_runs() {
        let mut jobs: Jobs<u32> = Jobs::new();
        jobs.start("Breaking".to_owned(), Manner::AtOnce, |_| panic!("on purpose")).unwrap();
        let (what, why) = jobs.wait().unwrap().unwrap_err();
        assert_eq!(what, "Breaking");
        assert!(why.contains("nothing was changed"), "{why}");
        assert!(jobs.shown().is_empty());
        jobs.start("Working".to_owned(), Manner::AtOnce, |_| 7).unwrap();
        assert_eq!(jobs.wait(), Some(Ok(7)));
    }

    #[test]
    fn jobs_in_turn_are_done_two_at_a_time_and_all_are_done() {
        let mut jobs: Jobs<usize> = Jobs::new();
        let (now, most) = (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicUsize::new(0)));
        for number in 0..10 {
            let (now, most) = (Arc::clone(&now), Arc::clone(&most));
            jobs.start(format!("Job {number}"), Manner::InTurn, move |_| {
                most.fetch_max(now.fetch_add(1, Ordering::SeqCst) + 1, Ordering::SeqCst);
                std::thread::sleep(Duration::from_millis(5));
                now.fetch_sub(1, Ordering::SeqCst);
                assert_ne!(number, 3, "on purpose: one that breaks does not stop the others");
                number
            })
            .unwrap();
        }
        let results: Vec<_> = std::iter::from_fn(|| jobs.wait()).collect();
        assert_eq!(results.len(), 10);
        assert_eq!(results.iter().filter(|result| result.is_err()).count(), 1);
        assert_eq!(most.load(Ordering::SeqCst), 2);
    }

    #[test]
    fn what_is_done_to_the_end_is_done_when_the_jobs_go() {
        let done = Arc::new(AtomicBool::new(false));
        let mut jobs: Jobs<()> = Jobs::new();
        let seen = Arc::clone(&done);
        jobs.start("Writing".to_owned(), Manner::ToTheEnd, move |_| {
            std::thread::sleep(Duration::from_millis(30));
            seen.store(true, Ordering::SeqCst);
        })
        .unwrap();
        drop(jobs);
        assert!(done.load(Ordering::SeqCst));
    }
}
