//! The mix never clips.

use crate::click::Stereo;

/// Up to here a mix is left alone; at the level that holds without options nothing reaches it.
const KNEE: f32 = 0.7;

/// A sample of a mix, bent so that it stays within full scale (1.0) however many sounds add up in it.
pub fn limited(sample: f32) -> f32 {
    let over = sample.abs() - KNEE;
    if over <= 0.0 {
        return sample;
    }
    let room = 1.0 - KNEE;
    sample.signum() * (KNEE + room * (over / room).tanh())
}

/// Limits a whole block. Real-time safe.
pub fn limit(out: Stereo<'_>) {
    for sample in out.left.iter_mut().chain(out.right) {
        *sample = limited(*sample);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn soft_is_left_alone_and_loud_stays_within_full_scale() {
        assert_eq!([-0.7, 0.0, 0.3].map(limited), [-0.7, 0.0, 0.3]);
        let mut last = 0.0;
        for step in 0..4000 {
            let bent = limited(step as f32 / 100.0);
            assert!(bent >= last && bent <= 1.0);
            assert_eq!(limited(-(step as f32) / 100.0), -bent);
            last = bent;
        }
    }
}
