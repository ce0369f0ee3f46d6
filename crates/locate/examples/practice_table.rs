//! Locates every practice scenario over a number of seeds and prints what was named (simulated boards).
//!
//! `cargo run --release -p joulemark-locate --example practice_table -- 20`, or `-- 20 pulses hard` for one scenario at another
//! difficulty.

use joulemark_frames::NoProgress;
use joulemark_locate::{
    Settings,
    align::Alignment,
    locate,
    simulate::{
        self,
        scenario::{self, Difficulty},
    },
};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let seeds: u64 = std::env::args().nth(1).map_or(Ok(5), |text| text.parse())?;
    let only = std::env::args().nth(2);
    let difficulty = std::env::args().nth(3).map_or(Ok(Difficulty::Medium), |word| {
        Difficulty::ALL.into_iter().find(|d| d.name() == word).ok_or(format!("'{word}': easy, medium or hard"))
    })?;
    println!(
        "{:<20} {:>5} {:>9} {:>9}  {:>6} {:>6}  {:>8} {:>6}  suspects",
        "scenario", "seed", "truth", "first", "p", "spots", "miss mm", "z"
    );
    for (name, filmed) in scenario::NAMES.into_iter().flat_map(|name| [(name, 1), (name, 2)]) {
        if only.as_ref().is_some_and(|o| o != name) || filmed == 2 && name != "pulses" {
            continue;
        }
        let (mut right, mut in_three) = (0, 0);
        for seed in 1..=seeds {
            let case = scenario::build_with(name, seed, difficulty).ok_or("unknown scenario")?;
            let simulated = case.again.as_ref().filter(|_| filmed == 2).unwrap_or(&case.simulated);
            let alignment = Alignment::fit(&simulated.pairs)?;
            let scene = case.scene(&alignment);
            let located = locate(&simulated.take, &scene, &Settings::default(), &NoProgress)?;
            let suspects = located.answers.first().map(|a| a.suspects.as_slice()).unwrap_or_default();
            let truth = simulated.truth.part.clone();
            let first = suspects.first();
            right += usize::from(first.map(|s| &s.part) == truth.as_ref());
            in_three += usize::from(
                suspects.iter().take(3).any(|s| Some(&s.part) == truth.as_ref())
                    || (truth.is_none() && first.is_none()),
            );
            let miss = match (located.hot_spots.first(), simulated.truth.centre_mm) {
                (Some(spot), Some(at)) => format!("{:.2}", (spot.centre_mm - at).norm()),
                _ => "-".into(),
            };
            let rise = located.hot_spots.first().map_or("-".to_owned(), |spot| {
                let (x, y) = (spot.centre_px.x.round() as usize, spot.centre_px.y.round() as usize);
                let truth = &simulated.truth.rise_end_k;
                let true_k = truth.get([y, x]).copied().unwrap_or(f32::NAN);
                format!(
                    "{:.2} of {true_k:.2} (peak {:.2}; map {:.2})",
                    spot.rise.end,
                    simulate::hottest(truth).2,
                    located.maps.rise[[y, x]]
                )
            });
            let list: Vec<String> =
                suspects.iter().take(4).map(|s| format!("{} {:.3}", s.part, s.probability)).collect();
            println!(
                "{name:<20} {seed:>5} {:>9} {:>9}  {:>6} {:>6}  {miss:>8} {:>6.1}  {rise}  {}  off {:.3}",
                truth.as_deref().unwrap_or("-"),
                first.map_or("-", |s| s.part.as_str()),
                first.map_or("-".into(), |s| format!("{:.3}", s.probability)),
                located.hot_spots.len(),
                located.hot_spots.first().map_or(0.0, |s| s.z),
                list.join(", "),
                located.answers.first().map_or(0.0, |a| a.off_drawing_probability),
            );
        }
        println!("{name}, recording {filmed}: first {right} of {seeds}, in the first three {in_three} of {seeds}");
    }
    Ok(())
}
