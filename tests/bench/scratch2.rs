use periband::study::{Case, find_band, outcome};
use periband::ensemble::{Progress, Fleet};
fn main() {
    let path = std::env::args().skip(1).find(|a| a.ends_with("yaml")).unwrap();
    let case = match Case::load(std::path::Path::new(&path), &[]) { Ok(c) => c, Err(e) => { eprintln!("error: {e}"); return } };
    let progress = Progress::default();
    let t = std::time::Instant::now();
    let result = match find_band(&case.scenario, &case.problem, &progress) { Ok(r) => r, Err(e) => { eprintln!("error: {e}"); return } };
    println!("{:?} s, {:?} passes", t.elapsed(), result.passes_flown);
    for p in &result.points { println!("{:9.3} {:.5} {:?} {:?}", p.aim_m/1e3, p.held.estimate, p.tally.broken, p.tally.endings); }
    println!("{:?}", result.band);
    let fleet = Fleet::new(&case.problem, &progress);
    let o = outcome::describe_aim(&fleet, (result.recommended_m, result.samples), 0.95, |_| {}).unwrap();
    let s = periband::report::summary::band_summary(&case, &result, &o, t.elapsed().as_secs_f64());
    println!("{}", serde_json::to_string_pretty(&s["at_recommended"]["peak_deceleration_g"]).unwrap());
    println!("{}", serde_json::to_string_pretty(&s["safe_periapsis_band_km"]).unwrap());
    println!("{:?}", case.problem.limits().entries());
}
