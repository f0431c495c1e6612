//! Work done by all processors, with the results in the order in which the jobs were given, as they come.

use super::Outcome;
use crossbeam_channel::bounded;
use std::collections::VecDeque;

/// Jobs begun for each thread before the oldest is waited for: enough that nobody is idle while one takes long, and few
/// enough that results do not pile up.
const AHEAD: usize = 8;

/// Does `work` for each job, and hands each result to `deliver` on the calling thread. Memory does not grow with the
/// number of jobs. Ends with the first failure of `deliver`; what is begun by then is finished and thrown away.
pub fn in_order<J: Send, R: Send>(
    jobs: impl IntoIterator<Item = J>,
    work: impl Fn(J) -> R + Sync,
    mut deliver: impl FnMut(R) -> Outcome,
) -> Outcome {
    let most = AHEAD * rayon::current_num_threads();
    let work = &work;
    rayon::in_place_scope(|scope| {
        let mut begun = VecDeque::with_capacity(most);
        for job in jobs {
            if begun.len() == most {
                begun
                    .pop_front()
                    .map_or(Ok(()), |oldest| arrive(oldest, &mut deliver))?;
            }
            let (done, result) = bounded(1);
            scope.spawn(move |_| {
                // Nobody waits for it after a failure.
                let _ = done.send(work(job));
            });
            begun.push_back(result);
        }
        begun
            .into_iter()
            .try_for_each(|oldest| arrive(oldest, &mut deliver))
    })
}

/// A result that never comes is one of a panic, which ends the scope.
fn arrive<R>(
    result: crossbeam_channel::Receiver<R>,
    deliver: &mut impl FnMut(R) -> Outcome,
) -> Outcome {
    result.recv().map_or(Ok(()), deliver)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::commands::Failure;
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Duration;

    #[test]
    fn results_come_in_the_order_of_the_jobs_however_long_each_takes() {
        let mut results = Vec::new();
        let slow_every_tenth = |job: u64| {
            if job.is_multiple_of(10) {
                std::thread::sleep(Duration::from_millis(2));
            }
            job * job
        };
        in_order(0..200, slow_every_tenth, |result| {
            results.push(result);
            Ok(())
        })
        .unwrap();
        assert_eq!(results, (0..200).map(|job| job * job).collect::<Vec<u64>>());
    }

    #[test]
    fn no_more_is_begun_than_can_be_delivered_soon() {
        let begun = AtomicUsize::new(0);
        let mut delivered = 0;
        in_order(
            0..1000,
            |_| begun.fetch_add(1, Ordering::SeqCst),
            |_| {
                let ahead = begun.load(Ordering::SeqCst) - delivered;
                assert!(ahead <= AHEAD * rayon::current_num_threads(), "{ahead}");
                delivered += 1;
                Ok(())
            },
        )
        .unwrap();
        assert_eq!(delivered, 1000);
    }

    #[test]
    fn a_reader_who_has_gone_ends_the_work() {
        let begun = AtomicUsize::new(0);
        let gone = in_order(
            0..100_000,
            |_| begun.fetch_add(1, Ordering::SeqCst),
            |_| Err(Failure::NobodyListens),
        );
        assert!(matches!(gone, Err(Failure::NobodyListens)));
        assert!(begun.load(Ordering::SeqCst) <= AHEAD * rayon::current_num_threads());
    }
}
