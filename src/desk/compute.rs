//! A thread that computes results, always from the newest it has been given.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};

use super::jobs::Waker;

/// What makes results: it may keep what can serve again. A fresh one is taken where one breaks.
pub(super) trait Make: Default + Send + 'static {
    /// What results are made from.
    type From: Send + 'static;
    /// Results.
    type Made: Send + Sync + 'static;

    /// Makes them. `is_stale` says that something newer has been asked for: then there may be none.
    fn make(&mut self, from: &Self::From, is_stale: &(dyn Fn() -> bool + Sync)) -> Option<Self::Made>;
}

enum Order<F> {
    Compute(Box<F>),
    Waker(Waker),
}

/// Results, or why there are none.
type Outcome<M> = Result<Arc<M>, String>;

/// The computing thread. It ends when this is dropped.
pub(super) struct Compute<T: Make> {
    orders: Sender<Order<T::From>>,
    results: Receiver<Outcome<T::Made>>,
    /// How often results were asked for.
    asked: Arc<AtomicU64>,
}

impl<T: Make> Compute<T> {
    pub(super) fn new(name: &str) -> Self {
        let (orders, inbox) = channel();
        let (outbox, results) = channel();
        let asked = Arc::new(AtomicU64::new(0));
        let newest = Arc::clone(&asked);
        let started =
            std::thread::Builder::new().name(name.to_owned()).spawn(move || work::<T>(&inbox, &outbox, &newest));
        // Without the thread the orders' receiver is gone, and `ask` computes in place.
        drop(started);
        Self { orders, results, asked }
    }

    pub(super) fn set_waker(&self, waker: Waker) {
        drop(self.orders.send(Order::Waker(waker)));
    }

    /// Asks for results. Returns them at once only where there is no thread to compute them.
    pub(super) fn ask(&self, from: T::From) -> Option<Arc<T::Made>> {
        self.asked.fetch_add(1, Ordering::Relaxed);
        match self.orders.send(Order::Compute(Box::new(from))) {
            Ok(()) => None,
            Err(refused) => match refused.0 {
                Order::Compute(from) => T::default().make(&from, &|| false).map(Arc::new),
                Order::Waker(_) => None,
            },
        }
    }

    /// The newest results that have come in since the last call.
    pub(super) fn newest(&self) -> Option<Outcome<T::Made>> {
        self.results.try_iter().last()
    }

    /// Waits for the next results.
    pub(super) fn wait(&self) -> Option<Outcome<T::Made>> {
        self.results.recv().ok()
    }
}

fn work<T: Make>(inbox: &Receiver<Order<T::From>>, outbox: &Sender<Outcome<T::Made>>, asked: &AtomicU64) {
    // Orders are taken in turn, so their number is that of the asking.
    let mut taken = 0;
    let mut waker: Waker = Arc::new(|| ());
    let mut maker = T::default();
    while let Ok(order) = inbox.recv() {
        let mut newest = None;
        let mut order = Some(order);
        while let Some(one) = order {
            match one {
                Order::Compute(from) => {
                    newest = Some(from);
                    taken += 1;
                }
                Order::Waker(new) => waker = new,
            }
            order = inbox.try_recv().ok();
        }
        if let Some(from) = newest {
            // What breaks is told of; the thread goes on with a fresh start.
            let is_stale = || asked.load(Ordering::Relaxed) != taken;
            let made = catch_unwind(AssertUnwindSafe(|| maker.make(&from, &is_stale).map(Arc::new))).map_err(|_| {
                maker = T::default();
                "it broke inside the program: what is shown may be out of date; save, and start the program again"
                    .to_owned()
            });
            // Nothing made: something newer waits in the inbox.
            let Some(made) = made.transpose() else { continue };
            if outbox.send(made).is_err() {
                return;
            }
            waker();
        }
    }
}
