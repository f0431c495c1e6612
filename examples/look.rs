#![allow(dead_code, missing_docs)]
#[path = "../tests/power/mod.rs"]
mod power;
use power::*;
fn main() {
    let a: Vec<String> = std::env::args().collect();
    let line = match a[1].as_str() {
        "quick" => &QUICK,
        "layered" => &LAYERED,
        "swung" => &SWUNG,
        "slow" => &SLOW,
        "moved" => &MOVED,
        _ => &TEMPI,
    };
    let e = expected(line, a[2].parse().unwrap());
    let h = format!("spread-ms=12,correlation=0.25,velocity-spread=8,{}", a[3])
        .parse()
        .unwrap();
    for seed in 0..a[4].parse().unwrap() {
        let f = findings(&e, &h, seed);
        if f.iter().any(|f| f.id == a[5]) {
            println!("- {seed}");
            for f in f {
                println!("{} {} {:.2}", f.id, f.text, f.hurt)
            }
        }
    }
}
