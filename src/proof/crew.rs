//! Who does the work: one after the other here, or on threads where the caller has some.

use std::sync::OnceLock;

/// Does independent jobs, in any order, each exactly once.
pub trait Crew: Sync {
    /// Calls `job` with each number below `count`; returns when all are done.
    fn each(&self, count: usize, job: &(dyn Fn(usize) + Sync));

    /// Told what the jobs that come next are of, for whoever shows how far the work is.
    fn begin(&self, _what: &'static str) {}
}

/// One job after the other.
#[derive(Clone, Copy, Debug, Default)]
pub struct Alone;

impl Crew for Alone {
    fn each(&self, count: usize, job: &(dyn Fn(usize) + Sync)) {
        (0..count).for_each(job);
    }
}

/// The results of all jobs, in order, whoever did them.
pub fn gathered<T: Send + Sync>(crew: &dyn Crew, count: usize, job: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let results: Vec<OnceLock<T>> = (0..count).map(|_| OnceLock::new()).collect();
    crew.each(count, &|index| {
        let _ = results[index].set(job(index));
    });
    // A crew that leaves a job undone breaks its promise; the job is done here then.
    results.into_iter().enumerate().map(|(index, slot)| slot.into_inner().unwrap_or_else(|| job(index))).collect()
}
