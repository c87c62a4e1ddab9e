//! A thread that computes results, always from the newest it has been given.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};

use super::jobs::Waker;

/// What makes results: it may keep what can serve again. A fresh one is taken where one breaks.
pub(super) trait Make: Default + Send + 'static {
    /// What results are made from.
    type From: Send + 'static;
    /// Results.
    type Made: Send + Sync + 'static;

    /// Makes them.
    fn make(&mut self, from: &Self::From) -> Self::Made;
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
}

impl<T: Make> Compute<T> {
    pub(super) fn new(name: &str) -> Self {
        let (orders, inbox) = channel();
        let (outbox, results) = channel();
        let started = std::thread::Builder::new().name(name.to_owned()).spawn(move || work::<T>(&inbox, &outbox));
        // Without the thread the orders' receiver is gone, and `ask` computes in place.
        drop(started);
        Self { orders, results }
    }

    pub(super) fn set_waker(&self, waker: Waker) {
        drop(self.orders.send(Order::Waker(waker)));
    }

    /// Asks for results. Returns them at once only where there is no thread to compute them.
    pub(super) fn ask(&self, from: T::From) -> Option<Arc<T::Made>> {
        match self.orders.send(Order::Compute(Box::new(from))) {
            Ok(()) => None,
            Err(refused) => match refused.0 {
                Order::Compute(from) => Some(Arc::new(T::default().make(&from))),
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

fn work<T: Make>(inbox: &Receiver<Order<T::From>>, outbox: &Sender<Outcome<T::Made>>) {
    let mut waker: Waker = Arc::new(|| ());
    let mut maker = T::default();
    while let Ok(order) = inbox.recv() {
        let mut newest = None;
        let mut order = Some(order);
        while let Some(one) = order {
            match one {
                Order::Compute(from) => newest = Some(from),
                Order::Waker(new) => waker = new,
            }
            order = inbox.try_recv().ok();
        }
        if let Some(from) = newest {
            // What breaks is told of; the thread goes on with a fresh start.
            let made = catch_unwind(AssertUnwindSafe(|| Arc::new(maker.make(&from)))).map_err(|_| {
                maker = T::default();
                "it broke inside the program: what is shown may be out of date; save, and start the program again"
                    .to_owned()
            });
            if outbox.send(made).is_err() {
                return;
            }
            waker();
        }
    }
}
