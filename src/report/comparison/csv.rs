//! A comparison as CSV (RFC 4180, with a head): one row a player, and with sections one row a player and section beneath.
//!
//! Columns: `section` (empty: all of the line), `player`, `takes`, `expected` and `matched` (notes of all takes together);
//! then for each measure, such as `lean_ms`, its value, its 95 % interval (`lean_ms_low`, `lean_ms_high`) and `lean_ms_takes`,
//! the takes that say something about it. The measures are those of [`Measure::name`], unit last. What is not known is
//! empty. Differences between players are in the text and in the JSON.

use super::Comparison;
use crate::compare::measure::Measure;
use crate::compare::{Part, PlayerSum};
use csv::{Terminator, WriterBuilder};
use std::io;

/// Writes all rows.
pub fn write(comparison: &Comparison, out: &mut impl io::Write) -> io::Result<()> {
    let mut writer = WriterBuilder::new()
        .terminator(Terminator::CRLF)
        .from_writer(out);
    let head = ["section", "player", "takes", "expected", "matched"].map(String::from);
    let of_measures = Measure::ALL.into_iter().flat_map(|measure| {
        ["", "_low", "_high", "_takes"].map(|end| format!("{}{end}", measure.name()))
    });
    writer.write_record(head.into_iter().chain(of_measures))?;
    let parts = std::iter::once(&comparison.whole).chain(comparison.sections.iter().flatten());
    for part in parts {
        for player in &part.players {
            writer.write_record(row(part, player))?;
        }
    }
    writer.flush()
}

fn row(part: &Part, player: &PlayerSum) -> Vec<String> {
    let mut row = vec![
        part.section.clone().unwrap_or_default(),
        player.name.clone(),
    ];
    row.extend([player.takes, player.expected, player.matched].map(|count| count.to_string()));
    for measure in Measure::ALL {
        let pooled = player.of(measure);
        let number = |of: Option<f64>| of.map_or_else(String::new, |number| format!("{number:.3}"));
        let interval = pooled.and_then(|pooled| pooled.interval);
        row.extend([
            number(pooled.map(|pooled| pooled.value)),
            number(interval.map(|[low, _]| low)),
            number(interval.map(|[_, high]| high)),
            pooled.map_or(0, |pooled| pooled.takes).to_string(),
        ]);
    }
    row
}
