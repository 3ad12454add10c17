//! Work in batches on several threads: taken from one source, handed over in its order, with a bounded number in flight.

use std::collections::BTreeMap;
use std::sync::{Condvar, Mutex, PoisonError};

use super::input::{Content, Item};

/// Listings that are handed to a thread at once: large enough that handing over costs nothing, small enough that
/// memory stays small.
pub(super) const BATCH: usize = 8;

/// Bytes from which a batch is full.
const BATCH_BYTES: usize = 1 << 20;

/// Batches in flight for each thread.
const AHEAD: usize = 4;

/// Makes of every item what `work` makes of its batch, on `jobs` threads; `sink` gets it in the order of the items.
/// Each thread keeps a `Vec` as room between its batches.
///
/// Each thread takes a batch from the items, works on it and hands over what is next in order: nothing waits for a
/// thread that only reads or only writes.
pub(super) fn in_order<T: Send>(
    items: impl Iterator<Item = Item> + Send,
    jobs: usize,
    work: impl Fn(Vec<Item>, &mut Vec<u8>) -> Vec<T> + Sync,
    sink: impl FnMut(T) + Send,
) {
    let jobs = jobs.max(1);
    let source = Mutex::new(Batches { items, next: 0 });
    let outlet = Outlet {
        state: Mutex::new(InOrder { waiting: BTreeMap::new(), next: 0, stopped: false, sink }),
        moved: Condvar::new(),
        ahead: jobs * AHEAD,
    };
    let thread = || {
        let mut room = Vec::new();
        loop {
            // A lock is poisoned where the items or the sink panicked: then all threads end.
            let Ok(Some((number, batch))) = source.lock().map(|mut source| source.take()) else { return };
            // Should this thread panic, the others must not wait for its batch.
            let own = Promise { outlet: &outlet, kept: false };
            let done = work(batch, &mut room);
            if own.keep(number, done).is_err() {
                return;
            }
        }
    };
    std::thread::scope(|scope| {
        for _ in 1..jobs {
            scope.spawn(thread);
        }
        thread();
    });
}

/// The items, and the number of the next batch of them.
struct Batches<I> {
    items: I,
    next: usize,
}

impl<I: Iterator<Item = Item>> Batches<I> {
    /// The next batch with its number; none at the end.
    fn take(&mut self) -> Option<(usize, Vec<Item>)> {
        let mut batch = Vec::with_capacity(BATCH);
        let mut held = 0;
        // Large ones go by themselves, so that few are held at a time.
        while batch.len() < BATCH && held < BATCH_BYTES {
            let Some(item) = self.items.next() else { break };
            if let Content::Bytes(bytes) | Content::JsonLine(bytes) = &item.content {
                held += bytes.len();
            }
            batch.push(item);
        }
        let number = self.next;
        self.next += 1;
        Some((number, batch)).filter(|(_, batch)| !batch.is_empty())
    }
}

/// Where results go, in the order of their batches.
struct Outlet<T, S> {
    state: Mutex<InOrder<T, S>>,
    /// Something was handed over, or never will be.
    moved: Condvar,
    /// How many batches may wait for a slow one.
    ahead: usize,
}

struct InOrder<T, S> {
    waiting: BTreeMap<usize, Vec<T>>,
    next: usize,
    /// A batch will never come.
    stopped: bool,
    sink: S,
}

impl<T, S: FnMut(T)> InOrder<T, S> {
    fn hand_over(&mut self) {
        while let Some(done) = self.waiting.remove(&self.next) {
            self.next += 1;
            for one in done {
                (self.sink)(one);
            }
        }
    }
}

/// Wakes those who wait, also where the sink panics.
struct Wakes<'c>(&'c Condvar);

impl Drop for Wakes<'_> {
    fn drop(&mut self) {
        self.0.notify_all();
    }
}

impl<T, S: FnMut(T)> Outlet<T, S> {
    /// Hands over whatever is next in order; returns when no more than `ahead` batches wait.
    ///
    /// # Errors
    /// The sink panicked on another thread.
    fn put(&self, number: usize, done: Vec<T>) -> Result<(), Stopped> {
        let _wakes = Wakes(&self.moved);
        let mut state = self.state.lock().map_err(|_| Stopped)?;
        state.waiting.insert(number, done);
        state.hand_over();
        if number < state.next {
            return Ok(());
        }
        // The thread with the batch that is next in order never waits.
        let too_far = |state: &mut InOrder<T, S>| number >= state.next + self.ahead && !state.stopped;
        let state = self.moved.wait_while(state, too_far).map_err(|_| Stopped)?;
        if state.stopped { Err(Stopped) } else { Ok(()) }
    }
}

/// Another thread panicked.
struct Stopped;

/// A batch that was taken and is still to be handed over.
struct Promise<'o, T, S: FnMut(T)> {
    outlet: &'o Outlet<T, S>,
    kept: bool,
}

impl<T, S: FnMut(T)> Promise<'_, T, S> {
    fn keep(mut self, number: usize, done: Vec<T>) -> Result<(), Stopped> {
        let put = self.outlet.put(number, done);
        self.kept = true;
        put
    }
}

impl<T, S: FnMut(T)> Drop for Promise<'_, T, S> {
    fn drop(&mut self) {
        if !self.kept {
            let mut state = self.outlet.state.lock().unwrap_or_else(PoisonError::into_inner);
            state.stopped = true;
            self.outlet.moved.notify_all();
        }
    }
}
