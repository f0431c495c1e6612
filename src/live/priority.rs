//! Lets the judging thread run before ordinary ones, where the system allows it.

/// Low among the real-time priorities: the sound's own threads go first.
const PRIORITY: u8 = 5;

/// Whether the calling thread has real-time priority from now on. On Unix it is scheduled first in, first out.
pub fn raise() -> bool {
    thread_priority::ThreadPriorityValue::try_from(PRIORITY)
        .is_ok_and(|value| raise_to(thread_priority::ThreadPriority::Crossplatform(value)))
}

#[cfg(unix)]
fn raise_to(priority: thread_priority::ThreadPriority) -> bool {
    use thread_priority::unix::{set_thread_priority_and_policy, thread_native_id};
    use thread_priority::{RealtimeThreadSchedulePolicy, ThreadSchedulePolicy};
    let policy = ThreadSchedulePolicy::Realtime(RealtimeThreadSchedulePolicy::Fifo);
    set_thread_priority_and_policy(thread_native_id(), priority, policy).is_ok()
}

#[cfg(not(unix))]
fn raise_to(_: thread_priority::ThreadPriority) -> bool {
    thread_priority::set_current_thread_priority(thread_priority::ThreadPriority::Max).is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Either answer is right: it depends on the rights of whoever runs the tests. A thread of its own is asked.
    #[cfg(target_os = "linux")]
    #[test]
    fn what_is_said_of_the_priority_is_so() {
        let asked = std::thread::spawn(|| {
            let raised = raise();
            let policy = thread_priority::unix::thread_schedule_policy();
            (raised, policy)
        });
        let (raised, policy) = asked.join().expect("an answer");
        let fifo = thread_priority::ThreadSchedulePolicy::Realtime(
            thread_priority::RealtimeThreadSchedulePolicy::Fifo,
        );
        assert_eq!(raised, policy.is_ok_and(|policy| policy == fifo));
    }
}
