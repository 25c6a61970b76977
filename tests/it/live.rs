//! What the page keeps of the samples stands for all of them: at every aim that it is kept for, and for every
//! limit, its weighted counts are those of all samples.

use periband::ensemble::engine::Progress;
use periband::ensemble::{Fleet, LimitKind};
use periband::study::Case;
use periband::study::live::{Live, Look};

const SAMPLES: u64 = 2500;

/// The counts of a limit at an aim from the kept samples, and the standard deviation that their weights leave.
fn counted(live: &Live, breaks: impl Fn(usize) -> bool) -> (f64, f64) {
    let broken = live.kept.iter().enumerate().filter(|(i, _)| breaks(*i));
    let (sum, square) = broken.fold((0.0, 0.0), |(sum, square), (_, kept)| {
        (
            sum + kept.weight,
            square + kept.weight * (kept.weight - 1.0),
        )
    });
    (sum, square.max(0.0).sqrt())
}

/// With about the aim that the band of the example recommends and its edges, at which the page looks at all samples.
fn stands_for_all(example: &str, recommended_m: f64, edges_m: &[f64]) {
    stands_for_all_of(&crate::example(example), recommended_m, edges_m);
}

fn stands_for_all_of(case: &Case, recommended_m: f64, edges_m: &[f64]) {
    let progress = Progress::default();
    let fleet = Fleet::new(&case.problem, &progress);
    let mut look = Look::new(&case.problem);
    let seen = fleet.fly(&[recommended_m], 0..SAMPLES, |flown| {
        look.take(&case.problem, flown);
    });
    seen.expect("not stopped");
    let about = (recommended_m, edges_m, SAMPLES);
    let live = Live::gather(&fleet, look, about, (40_000, 40_000)).expect("not stopped");
    let kept = live.kept.len();
    assert!(kept < 2000, "{kept} of {SAMPLES} are kept");
    let whole: f64 = live.kept.iter().map(|kept| kept.weight).sum();
    assert!((whole / 2500.0 - 1.0).abs() < 1e-9, "{whole}");
    assert!(live.failed.is_empty());

    let tallies = fleet.tally(&live.aims_m, 0..SAMPLES).expect("not stopped");
    let aims = live.aims_m.len();
    let mut compared = 0;
    for (aim, tally) in tallies.iter().enumerate() {
        let stays = |i: usize| live.aims_m[aim] < live.stays_below_m[i];
        for channel in &live.channels {
            let kind = channel.gauge.kind;
            let breaks = |i: usize| {
                let hit = channel.severity[i * aims + aim] > channel.gauge.threshold();
                hit && !(channel.gauge.is_of_the_orbit() && stays(i))
            };
            near(counted(&live, breaks), tally.broken[channel.place], kind);
            compared += 1;
        }
        if let Some(kind) = live.staying {
            let entries = case.problem.limits().entries();
            let place = entries
                .iter()
                .position(|limit| limit.kind == kind)
                .expect("a limit");
            let wanted = kind == LimitKind::ComesDown;
            near(
                counted(&live, |i| stays(i) != wanted),
                tally.broken[place],
                kind,
            );
            compared += 1;
        }
    }
    assert!(compared > 40, "{compared}");
}

/// Within four standard deviations and half a sample.
fn near((sum, deviation): (f64, f64), broken: u64, kind: LimitKind) {
    let all = f64::from(u32::try_from(broken).expect("few"));
    assert!(
        (sum - all).abs() <= 4.0 * deviation + 0.5,
        "{kind:?}: {sum} ± {deviation}, counted {all}"
    );
}

#[test]
fn kept_samples_of_a_capture_stand_for_all() {
    stands_for_all("own-world.yaml", 78_500.0, &[76_300.0, 81_600.0]);
}

#[test]
fn kept_samples_of_a_descent_stand_for_all() {
    stands_for_all("skirted-shell.yaml", 48_000.0, &[43_300.0, 52_000.0]);
}

/// Among its limits is a curve of level against duration.
#[test]
fn kept_samples_of_a_return_stand_for_all() {
    stands_for_all("earth-return.yaml", 48_000.0, &[10_500.0, 86_770.0]);
}

/// With a limit on either side of the apoapsis: passes that come down, of which the lower one says nothing, are among
/// the aims.
#[test]
fn kept_samples_between_two_apoapses_stand_for_all() {
    let set = (
        "limits.captured_above.apoapsis_altitude".to_owned(),
        "4000 km".to_owned(),
    );
    let case = Case::load(&crate::examples().join("own-world.yaml"), &[set]).expect("a case");
    stands_for_all_of(&case, 78_500.0, &[76_300.0, 81_600.0]);
}
