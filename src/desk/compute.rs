//! One thread that computes derived results, always for the newest record it has been given.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};

use super::derived::{Derived, Deriver, Input};
use super::jobs::Waker;

enum Order {
    Compute(Box<Input>),
    Waker(Waker),
}

/// The computing thread. It ends when this is dropped.
pub(super) struct Compute {
    orders: Sender<Order>,
    results: Receiver<Arc<Derived>>,
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
    pub(super) fn newest(&self) -> Option<Arc<Derived>> {
        self.results.try_iter().last()
    }

    /// Waits for the next results.
    pub(super) fn wait(&self) -> Option<Arc<Derived>> {
        self.results.recv().ok()
    }
}

fn work(inbox: &Receiver<Order>, outbox: &Sender<Arc<Derived>>) {
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
            if outbox.send(Arc::new(deriver.derive(&input))).is_err() {
                return;
            }
            waker();
        }
    }
}
