//! Jobs that are done at once, of which one thing is done one after the other.

use std::sync::{Condvar, Mutex, PoisonError};

/// Whose turn it is. Turns count from 0; each is taken by one job and ends with it.
#[derive(Debug, Default)]
pub struct Turns {
    now: Mutex<usize>,
    ended: Condvar,
}

/// One turn. It ends when it is let go of, however its job ends; jobs are to be begun in the order of their turns, or they wait for each other.
#[derive(Debug)]
pub struct Turn<'a> {
    turns: &'a Turns,
    own: usize,
}

impl Turns {
    /// The turn of a job.
    pub fn turn(&self, own: usize) -> Turn<'_> {
        Turn { turns: self, own }
    }
}

impl Turn<'_> {
    /// Waits until all earlier turns have ended.
    pub fn wait(&self) {
        let now = self.turns.now.lock().unwrap_or_else(PoisonError::into_inner);
        drop(self.turns.ended.wait_while(now, |now| *now < self.own));
    }
}

impl Drop for Turn<'_> {
    fn drop(&mut self) {
        self.wait();
        *self.turns.now.lock().unwrap_or_else(PoisonError::into_inner) += 1;
        self.turns.ended.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Duration;

    /// Four threads take jobs of uneven length; the third one breaks off before its turn.
    #[test]
    fn turns_come_in_order_whatever_takes_longest_and_whatever_breaks_off() {
        let (turns, next, told) = (Turns::default(), AtomicUsize::new(0), Mutex::new(Vec::new()));
        let work = || {
            loop {
                let own = next.fetch_add(1, Ordering::Relaxed);
                if own >= 40 {
                    break;
                }
                let turn = turns.turn(own);
                std::thread::sleep(Duration::from_micros(997 * (own as u64 * 7 % 5)));
                if own == 2 {
                    continue;
                }
                turn.wait();
                told.lock().unwrap().push(own);
            }
        };
        std::thread::scope(|scope| {
            for _ in 0..4 {
                scope.spawn(work);
            }
        });
        let expected: Vec<usize> = (0..40).filter(|&own| own != 2).collect();
        assert_eq!(told.into_inner().unwrap(), expected);
    }
}
