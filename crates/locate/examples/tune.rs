//! Temporary.
use joulemark_frames::NoProgress;
use joulemark_locate::{Scene, Settings, align::Alignment, locate, report::Report, simulate::proving::*};
use rayon::prelude::*;
fn main() {
    let args: Vec<String> = std::env::args().collect();
    let from: u64 = args[2].parse().unwrap();
    let seeds: u64 = args[3].parse().unwrap();
    let most_px: usize = std::env::var("MOST").ok().and_then(|s| s.parse().ok()).unwrap_or(usize::MAX);
    for kind in Kind::all() {
        if !kind.to_string().contains(&args[1]) || std::env::var("NOT").is_ok_and(|n| kind.to_string().contains(&n)) {
            continue;
        }
        let rows: Vec<(usize, String)> = (from..from + seeds).into_par_iter().map(|seed| {
            let t0 = std::time::Instant::now();
            if picture_size(kind, seed).0 > most_px { return (9, String::new()); }
            let b = build(kind, seed);
            if b.setup.camera.width_px > most_px { return (9, String::new()); }
            let t1 = t0.elapsed().as_secs_f64();
            let Ok(alignment) = Alignment::fit(&b.simulated.pairs) else { return (8, format!("align {seed}")) };
            let scene = Scene { board: &b.board, face: &b.face, rail: &b.rail, alignment: &alignment, lead_ohms: b.lead_ohms, injection_mm: b.injection_mm };
            let mut s = Settings::default();
            for f in std::env::var("OFF").unwrap_or_default().split(',') { match f { "reflection" => s.repairs.reflection = false, "other_causes" => s.repairs.other_causes = false, "motion" => s.repairs.motion = false, "stripes" => s.repairs.stripes=false, "level"=>s.repairs.level=false, "power_bound"=>s.repairs.power_bound=false, _ => {} } }
            let t0 = std::time::Instant::now();
            let l = match locate(&b.simulated.take, &scene, &s, &NoProgress) { Ok(l) => l, Err(e) => return (7, format!("{seed}: {e}")) };
            let t2 = t0.elapsed().as_secs_f64();
            let r = Report::from(&l);
            let truth = b.simulated.truth.part.clone();
            let rank = r.suspects.iter().position(|s| Some(&s.part) == truth.as_ref());
            let at = b.simulated.truth.centre_px;
            let spots: Vec<String> = l.hot_spots.iter().take(3).map(|h| format!("({:.0},{:.0} s{:.1} z{:.0} r{:.3}{})", h.centre_px.x, h.centre_px.y, h.scale_px, h.z, h.rise.end, at.map_or(String::new(), |a| format!(" d{:.1}", (a - h.centre_px).norm())))).collect();
            let code = if kind.blank() { if l.hot_spots.is_empty() { 0 } else { 3 } } else if l.hot_spots.is_empty() { 4 } else { match rank { Some(0) => 0, Some(1 | 2) => 1, _ => 2 } };
            let first = r.suspects.first();
            let blames = first.is_some_and(|f| b.blames_the_disturbance(Some(&f.part), l.hot_spots[f.hot_spot].centre_px, l.hot_spots[f.hot_spot].centre_mm));
            let dbg = joulemark_locate::take_debug().iter().map(|(x,y,t)| format!("\n        {}{t}", at.map_or("".into(), |a| format!("d{:.1} ", (a - nalgebra::Point2::new(*x,*y)).norm())))).collect::<String>();
            (code, format!("{kind} seed {seed} {}x{} size {:.3} truth {truth:?} at {:?} first {:?} p {:.2} {spots:?}{} netd {:.3} rep {:?} warn {} t {t1:.1}/{t2:.2}{dbg}", b.setup.camera.width_px, b.setup.camera.height_px, b.size_k, at.map(|a| (a.x as i32, a.y as i32)), first.map(|s| &s.part), first.map_or(0.0, |s| s.probability), if blames {" BLAMES"} else {""}, l.noise.netd, l.repairs.iter().map(|r| r.what).collect::<Vec<_>>(), l.warnings.len()))
        }).collect();
        let n = rows.iter().filter(|r| r.0 < 9).count();
        let c = |k: usize| rows.iter().filter(|r| r.0 == k).count();
        for r in &rows {
            if r.0 != 9 && (r.0 != 0 || std::env::var("ALL").is_ok()) {
                println!("[{}] {}", r.0, r.1);
            }
        }
        println!(
            "== {kind}: n {n} right {} in3 {} wrong {} false {} missed {} err {} blames {}",
            c(0),
            c(0) + c(1),
            c(2),
            c(3),
            c(4),
            c(7) + c(8),
            rows.iter().filter(|r| r.1.contains("BLAMES")).count()
        );
    }
}
