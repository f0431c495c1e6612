//! How much a page shows, so that no take makes one that a browser cannot hold. What is left out is counted where it would stand.

/// Notes of the part that are drawn, by whole bars: an hour of quarter notes at 66.
pub const DRAWN_NOTES: usize = 4000;
/// Marks in one chart; of more every second, third … is drawn.
pub const MARKS: usize = 4000;
/// Rows of one table; the first ones.
pub const ROWS: usize = 1000;
/// Notes of one finding that are linked at once; the others when they are asked for.
pub const LINKED: usize = 24;
/// Places in the bar that stand side by side; the most frequent ones.
pub const PLACES: usize = 32;

/// Every how many of `count` are drawn.
pub fn step(count: usize) -> usize {
    count.div_ceil(MARKS).max(1)
}

/// `Every third mark is drawn` where not all are, in words.
pub fn thinned(count: usize) -> Option<String> {
    let step = step(count);
    (step > 1).then(|| format!("One mark in {step} is drawn; the numbers count all {count}."))
}
