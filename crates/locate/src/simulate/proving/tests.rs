//! Proving boards are what they say they are.

use super::*;
use crate::{align::Alignment, simulate::hottest};

/// The first seeds of a kind whose pictures are small: the others take several times as long.
fn small(kind: Kind) -> impl Iterator<Item = u64> {
    (0..).filter(move |&seed| picture_size(kind, seed) == (160, 120))
}

/// The hottest pixel has the tier's rise and lies on the faulty part, which nothing covers.
#[test]
fn tiers_have_their_rise_on_the_faulty_part() {
    for (tier, low, high) in [(Tier::Strong, 10.0, 50.0), (Tier::Medium, 1.0, 5.0), (Tier::Faint, 0.1, 0.5)] {
        for seed in small(Kind::Tier(tier)).take(3) {
            let made = build(Kind::Tier(tier), seed);
            assert_eq!(made.board.check(), Ok(()), "{tier:?} {seed}");
            let (x, y, rise_k) = hottest(&made.simulated.truth.rise_end_k);
            assert!((low..=high).contains(&f64::from(rise_k)), "{tier:?} {seed}: {rise_k}");
            assert!((f64::from(rise_k) / made.size_k - 1.0).abs() < 1e-3, "{tier:?} {seed}");
            let board_from_image = made.setup.camera.image_from_board.try_inverse().unwrap();
            let at = crate::simulate::camera::map(&board_from_image, Point2::new(x as f64, y as f64));
            let (_, part) = made.board.part(made.simulated.truth.part.as_deref().unwrap()).unwrap();
            // A pixel's own half diagonal beside the footprint is allowed.
            let off = Footprint::from(part).distance_mm(at);
            assert!(off < 0.8 * made.mm_per_px, "{tier:?} {seed}: {off} mm at {} mm/px", made.mm_per_px);
        }
    }
}

/// The log's watts less the leads' are those of the sources and up to 8 % unseen (readings round to 1 mV and 0.1 mA).
#[test]
fn the_log_adds_up() {
    for seed in small(Kind::Tier(Tier::Medium)).take(5) {
        let made = build(Kind::Tier(Tier::Medium), seed);
        let timeline = &made.simulated.take.timeline;
        let (watts, amps) = (timeline.mean_watts().unwrap(), timeline.mean_amps().unwrap());
        let Some(lead_ohms) = made.lead_ohms else { continue };
        let at_board = watts - amps * amps * lead_ohms;
        let sources: f64 = made.setup.sources.iter().map(|s| s.watts).sum();
        assert!((0.97..1.12).contains(&(at_board / sources)), "{seed}: {at_board} against {sources}");
    }
}

#[test]
fn one_seed_gives_one_board_and_another_seed_another() {
    let kind = Kind::Tier(Tier::Pulsed);
    let seeds: Vec<u64> = small(kind).take(2).collect();
    let (a, again, b) = (build(kind, seeds[0]), build(kind, seeds[0]), build(kind, seeds[1]));
    assert_eq!(a.board, again.board);
    assert_eq!(a.simulated.take.stack.samples(), again.simulated.take.stack.samples());
    assert_ne!(a.board, b.board);
}

/// On and off several times, not a whole number of times, and the log is true to the frame.
#[test]
fn pulses_are_logged_true_and_cut_off_within_a_period() {
    for seed in small(Kind::Tier(Tier::Pulsed)).take(3) {
        let made = build(Kind::Tier(Tier::Pulsed), seed);
        let timeline = &made.simulated.take.timeline;
        let starts = timeline.injecting.windows(2).filter(|w| !w[0] && w[1]).count();
        assert!(starts >= 4, "{seed}: {starts}");
        let period_s = made.period_s.unwrap();
        let drive = made.setup.sources[0].drive;
        assert!(timeline.time_s.iter().zip(&timeline.injecting).all(|(t, on)| drive.is_on(*t) == *on));
        let crate::simulate::Drive::Pulses { on_s, .. } = drive else { panic!("{drive:?}") };
        let periods = (timeline.time_s.last().unwrap() - on_s) / period_s;
        assert!((0.1..0.9).contains(&periods.fract()), "{seed}: {periods}");
    }
}

/// Every kind builds, its marks make an alignment, and blank boards stay cold.
#[test]
fn every_kind_builds() {
    // Pulsed blanks are the step ones under another schedule: one of them is enough.
    let again = |kind: &Kind| matches!(kind, Kind::Blank { nuisance, pulsed: true } if *nuisance != Nuisance::All);
    for kind in Kind::all().into_iter().filter(|kind| !again(kind)) {
        let Some(made) = small(kind).next().map(|seed| build(kind, seed)) else { continue };
        assert_eq!(made.board.check(), Ok(()), "{kind}");
        assert!(Alignment::fit(&made.simulated.pairs).is_ok(), "{kind}");
        let hottest_k = hottest(&made.simulated.truth.rise_end_k).2;
        assert_eq!(made.simulated.truth.part.is_none(), kind.blank(), "{kind}");
        assert!(!kind.blank() || hottest_k < 0.01, "{kind}: {hottest_k}");
        assert_eq!(made.site.is_some(), matches!(kind, Kind::Disturbed(_)), "{kind}");
    }
}

/// One run of the heat equation, scaled and added up, shows what the finished setup shows when it is run as a whole.
#[test]
fn a_scaled_run_is_the_run_of_the_scaled_setup() {
    let disturbed = [Disturbance::WarmProbe, Disturbance::CoolingPatch].map(Kind::Disturbed);
    for kind in [Kind::Tier(Tier::Medium)].into_iter().chain(disturbed) {
        let Some(made) = small(kind).next().map(|seed| build(kind, seed)) else { continue };
        let again = crate::simulate::simulate(&made.setup, made.seed);
        let truth = made.simulated.truth.rise_end_k.iter().zip(&again.truth.rise_end_k);
        // Rises of a few kelvin in f32, and the difference of two of them where a patch or probe is taken off.
        assert!(truth.into_iter().all(|(a, b)| (a - b).abs() < 1e-4), "{kind}");
        let gain_k = made.setup.sensor.law.gain_k_per_count;
        for frame in [0, again.take.stack.shape().frames / 2, again.take.stack.shape().frames - 1] {
            let pairs = made.simulated.take.stack.frame(frame);
            let off = pairs.iter().zip(&again.take.stack.frame(frame)).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
            assert!(f64::from(off) < 1.01 * gain_k, "{kind}: {off}");
        }
    }
}

/// The hottest pixel swings by the tier's amplitude: sine and cosine fitted to the pixels of the noiseless recording.
#[test]
fn pulses_swing_by_their_amplitude() {
    let kind = Kind::Tier(Tier::Pulsed);
    let Some(made) = small(kind).next().map(|seed| build(kind, seed)) else { panic!("there is one") };
    let period_s = made.period_s.unwrap();
    let stack = crate::simulate::simulate_noiseless(&made.setup).take.stack;
    let first = made.setup.timeline.first_injected().unwrap();
    let times = &made.setup.timeline.time_s[first..];
    let basis = nalgebra::DMatrix::from_fn(times.len(), 5, |row, column| {
        let (t, turn) = (times[row] - times[0], std::f64::consts::TAU * times[row] / period_s);
        [1.0, t, t * t, turn.cos(), turn.sin()][column]
    });
    let solver = basis.svd(true, true);
    let mut largest = 0.0_f64;
    let (x, y, _) = hottest(&made.simulated.truth.rise_end_k);
    for (dx, dy) in (-6..=6).flat_map(|dx| (-6..=6).map(move |dy| (dx, dy))) {
        let at = [(y as i32 + dy).clamp(0, 119) as usize, (x as i32 + dx).clamp(0, 159) as usize];
        let curve = nalgebra::DVector::from_iterator(
            times.len(),
            (first..first + times.len()).map(|frame| f64::from(stack.frame(frame)[at])),
        );
        let fit = solver.solve(&curve, 1e-12).unwrap();
        largest = largest.max(fit[3].hypot(fit[4]));
    }
    // The recording's f32 kelvin around zero keep a tenth of a millikelvin and better.
    assert!((largest / made.size_k - 1.0).abs() < 0.02, "{largest} against {}", made.size_k);
}
