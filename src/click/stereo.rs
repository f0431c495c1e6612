//! A block of sound for two ears.

/// One block, a channel a slice; both are equally long.
#[derive(Debug)]
pub struct Stereo<'a> {
    /// For the left ear.
    pub left: &'a mut [f32],
    /// For the right one.
    pub right: &'a mut [f32],
}

impl<'a> Stereo<'a> {
    /// Of two channels of one length; what one has more is left alone.
    pub fn new(left: &'a mut [f32], right: &'a mut [f32]) -> Stereo<'a> {
        let frames = left.len().min(right.len());
        Stereo {
            left: &mut left[..frames],
            right: &mut right[..frames],
        }
    }

    /// How many frames it has.
    pub fn frames(&self) -> usize {
        self.left.len()
    }

    /// The same block for another to fill.
    pub fn lend(&mut self) -> Stereo<'_> {
        Stereo {
            left: self.left,
            right: self.right,
        }
    }

    /// All of it from a frame on.
    pub fn after(self, frame: usize) -> Stereo<'a> {
        let frame = frame.min(self.frames());
        Stereo {
            left: &mut self.left[frame..],
            right: &mut self.right[frame..],
        }
    }

    /// Fills it with silence.
    pub fn silence(&mut self) {
        self.left.fill(0.0);
        self.right.fill(0.0);
    }

    /// Fills it with one sound for both ears.
    pub fn fill_both(&mut self, fill: impl FnOnce(&mut [f32])) {
        fill(self.left);
        self.right.copy_from_slice(self.left);
    }

    /// Puts the mean of both into the left channel, for a device that has one: what is alike in both keeps its level to
    /// the bit.
    pub fn mean_into_left(&mut self) {
        for (left, right) in self.left.iter_mut().zip(&*self.right) {
            *left = (*left + right) * 0.5;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mean_of_what_is_alike_is_the_same_to_the_bit() {
        let mut left = [0.1f32, 0.3, -0.7, 1.0];
        let mut right = left;
        Stereo::new(&mut left, &mut right).mean_into_left();
        assert_eq!(left, right);
        let mut other = [0.0; 4];
        Stereo::new(&mut left, &mut other).mean_into_left();
        assert_eq!(left, right.map(|sample| sample / 2.0));
    }
}
