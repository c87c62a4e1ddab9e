//! One thread that computes derived results, always for the newest record it has been given.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};

use super::derived::{Derived, Deriver, Input};
use super::jobs::Waker;

enum Order {
    Compute(Box<Input>),
    Waker(Waker),
}

/// Results, or why there are none.
type Made = Result<Arc<Derived>, String>;

/// The computing thread. It ends when this is dropped.
pub(super) struct Compute {
    orders: Sender<Order>,
    results: Receiver<Made>,
}

impl Compute {
    pub(super) fn new() -> Self {
        let (orders, inbox) = channel();
        let (outbox, results) = channel();
        let started = std::thread::Builder::new().name("derive".to_owned()).spawn(move || work(&inbox, &outbox));
        // Without the thread the orders' receiver is gone, and `ask` computes in place.
        drop(started);
        Self { orders, results }
    }

    pub(super) fn set_waker(&self, waker: Waker) {
        drop(self.orders.send(Order::Waker(waker)));
    }

    /// Asks for the results of this record. Returns them at once only where there is no thread to compute them.
    pub(super) fn ask(&self, input: Input) -> Option<Arc<Derived>> {
        match self.orders.send(Order::Compute(Box::new(input))) {
            Ok(()) => None,
            Err(refused) => match refused.0 {
                Order::Compute(input) => Some(Arc::new(Deriver::default().derive(&input))),
                Order::Waker(_) => None,
            },
        }
    }

    /// The newest results that have come in since the last call.
    pub(super) fn newest(&self) -> Option<Made> {
        self.results.try_iter().last()
    }

    /// Waits for the next results.
    pub(super) fn wait(&self) -> Option<Made> {
        self.results.recv().ok()
    }
}

fn work(inbox: &Receiver<Order>, outbox: &Sender<Made>) {
    let mut waker: Waker = Arc::new(|| ());
    let mut deriver = Deriver::default();
    while let Ok(order) = inbox.recv() {
        let mut newest = None;
        let mut order = Some(order);
        while let Some(one) = order {
            match one {
                Order::Compute(input) => newest = Some(input),
                Order::Waker(new) => waker = new,
            }
            order = inbox.try_recv().ok();
        }
        if let Some(input) = newest {
            // What breaks is told of; the thread goes on with a fresh start.
            let made = catch_unwind(AssertUnwindSafe(|| Arc::new(deriver.derive(&input)))).map_err(|_| {
                deriver = Deriver::default();
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
